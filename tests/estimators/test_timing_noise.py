"""Timing noise against the jitter that was put in: within 25 % wherever it is said, else refused with a limit."""

from dataclasses import replace

import numpy as np
import pytest

from whorlpulse.conditioning import condition
from whorlpulse.conditioning.counted import Counted
from whorlpulse.estimators.timing_noise import timing_noise
from whorlpulse.logfile import read_log
from whorlpulse.rig import Rig
from whorlpulse.simulate import scenario, simulate

TICK_S = 1e-6


def measured(name, jitter_s, seed):
    case = scenario(name)
    case = replace(case, sensors=tuple(replace(s, jitter_s=jitter_s) for s in case.sensors))
    log = read_log(lambda: [simulate(case, seed).log])
    found = condition(log.rows, Rig(log.header.tick_hz, log.header.tick_bits, log.header.targets))
    return timing_noise([s.flyer for s in found.stretches], log.header.targets["f"], TICK_S)


@pytest.mark.parametrize("name", ["steady", "skein-on-plan", "three-whorls", "faulty-sensors", "uneven-magnets"])
def test_what_is_said_is_within_a_quarter_of_the_truth(name):
    said = 0
    for jitter_s in (300e-6, 500e-6, 1e-3, 2e-3):
        for seed in range(3):
            found = measured(name, jitter_s, seed)
            if found.sigma_s is not None:
                said += 1
                assert found.sigma_s == pytest.approx(jitter_s, rel=0.25)
    assert said >= 10  # of twelve


@pytest.mark.parametrize("name", ["steady", "slipping-band", "continuous-take-up", "hard-uneven"])
def test_where_the_feet_hide_it_nothing_is_said_but_a_limit(name):
    for seed in range(4):
        found = measured(name, 20e-6, seed)
        assert found.sigma_s is None
        assert found.hidden == "feet"
        assert found.at_most_s > 20e-6


def test_smooth_motion_without_noise_leaves_the_tick():
    t_s = np.arange(400) * 0.1 + 0.02 * np.sin(np.arange(400) / 60.0)
    found = timing_noise([Counted.one_each(t_s)], 1, TICK_S)
    assert found.sigma_s is None or found.sigma_s <= 1e-6


def test_pure_noise_is_measured_to_its_sampling_error():
    rng = np.random.default_rng(3)
    t_s = np.arange(4000) * 0.1 + 5e-4 * rng.standard_normal(4000)
    found = timing_noise([Counted.one_each(t_s)], 1, TICK_S)
    assert found.sigma_s == pytest.approx(5e-4, rel=0.06)


def test_a_filled_passage_is_no_evidence():
    rng = np.random.default_rng(4)
    t_s = np.arange(2000) * 0.1 + 2e-4 * rng.standard_normal(2000)
    filled = np.zeros(2000, bool)
    filled[::61] = True
    t_s[filled] += 0.02  # wherever a repair may have put it
    found = timing_noise([Counted(t_s, np.arange(2000), filled)], 1, TICK_S)
    assert found.sigma_s == pytest.approx(2e-4, rel=0.1)


def test_few_pulses_are_too_few():
    found = timing_noise([Counted.one_each(np.arange(120) * 0.1)], 1, TICK_S)
    assert (found.sigma_s, found.hidden) == (None, "few")
