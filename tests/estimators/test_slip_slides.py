"""Slides against simulated slack bands; and none where the band holds, creeps, thumps or slips in bursts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.accuracy.trial import trial
from tests.estimators.test_slip_bursts import FOUR, bursts_at_random

from whorlpulse.estimators.slip_slides import find_slides, ran_down
from whorlpulse.simulate import Band, Flyer, Scenario, Sensor, Treadling, Yarn, scenario

#: Twist of the yarn that loads the flyer, turns per metre.
TPM = 205.0


def slack(tension_n: float, targets: tuple[float, ...] = FOUR) -> Scenario:
    """A band so slack on the smallest whorl that it slides for long while yarn is wound on (invented figures)."""
    case = scenario("steady").lasting(120.0)
    return replace(
        case,
        phases=tuple(replace(p, whorl=2) if isinstance(p, Treadling) else p for p in case.phases),
        band=Band(tension_n=tension_n, grip_static=0.34, grip_sliding=0.22),
        flyer=Flyer(winding_nm=0.011),
        yarn=Yarn(TPM),
        sensors=(Sensor("w", targets), Sensor("f")),
    )


def slid_s(made) -> float:
    """How long the band slid in stretches of three seconds or more, by the simulation."""
    return sum(b.end_s - b.start_s for b in made.truth.bursts if b.end_s - b.start_s >= 3.0)


@pytest.mark.parametrize("targets", [(0.0,), FOUR], ids=["one wheel target", "four"])
def test_slides_are_found_where_the_band_slid(targets):
    for seed in (0, 1, 2, 3, 5):
        made = trial(slack(1.15 + 0.02 * (seed % 3), targets), seed)
        assert slid_s(made) > 60.0
        found = find_slides(made.conditioned)
        assert found is not None
        assert found.turns > 0.1 * found.of
        middle = 0.5 * (found.from_s + found.to_s)
        assert any(b.start_s - 2.0 < middle < b.end_s + 2.0 for b in made.truth.bursts)
        # against the log's own best turns, so never more than was lost
        assert found.lost < 1.05 * sum(b.lost_turns for b in made.truth.bursts)


@pytest.mark.parametrize(
    "case",
    [
        scenario("steady"),
        scenario("hard-uneven"),
        scenario("creeping-band"),
        scenario("bad-joint"),
        scenario("three-runs"),
        scenario("three-whorls"),
        scenario("uneven-magnets"),
        scenario("faulty-sensors"),
        scenario("slipping-band"),
        scenario("planned-bursts"),
        bursts_at_random(3),
        replace(scenario("steady").lasting(120.0), band=Band(stiffness_n=12.0, tension_n=6.0), yarn=Yarn(TPM)),
    ],
    ids=lambda c: c.name,
)
def test_what_is_no_slide_is_none(case):
    for seed in range(4):
        assert find_slides(trial(case, seed).conditioned) is None


def test_counts_and_short_logs_are_left_alone():
    assert find_slides(trial(scenario("coarse-clock"), 0).conditioned) is None
    assert find_slides(trial(scenario("steady").lasting(15.0), 0).conditioned) is None


def test_a_shaft_that_runs_down_is_told_from_a_sensor_that_falls_silent():
    even = 0.12 * np.arange(40.0)
    # friction takes equal speed in equal times: speed 8.3 a second, gone after three seconds
    braked = even[20] + 3.0 * (1.0 - np.sqrt(1.0 - np.arange(1, 13) / 12.5))
    slowed = np.concatenate((even[:21], braked, even[:15] + 30.0))
    assert ran_down(slowed, 32)
    # the same backwards: it stood, and sped up
    assert ran_down(-slowed[::-1], len(slowed) - 2 - 32)
    silent = np.delete(even, np.arange(20, 30))
    assert not ran_down(silent, 19)
    # nor do feet look like it
    treadled = 0.12 * (np.arange(80.0) + 0.2 * np.sin(2.0 * np.pi * np.arange(80) / 8.4) * 8.4 / (2.0 * np.pi))
    assert not any(ran_down(np.delete(treadled, np.arange(i + 1, i + 11)), i) for i in range(20, 50))
    assert not ran_down(even, 2)
