"""Targets counted wrongly, on simulated wheels whose ratio is known; and rightly, where nothing may be said."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.accuracy.trial import trial
from tests.estimators.test_slip_bursts import FOUR

from whorlpulse.actions.recording import read_recording
from whorlpulse.cli.inputs import Given, rig_of
from whorlpulse.conditioning.chain import condition
from whorlpulse.findings.count_rules import counts_against_known
from whorlpulse.findings.evidence import Facts, Framing
from whorlpulse.simulate import Foot, Scenario, Sensor, scenario


def facts_of(case: Scenario, seed: int, **targets: int) -> Facts:
    """What the rules see of a simulated log, with these numbers of targets stated instead of its own."""
    log = trial(case, seed).capture.log
    recording = read_recording(lambda: [log], "made.pulses")
    rig, _ = rig_of(recording, Given(), needs_length=False)
    rig = replace(rig, targets={**rig.targets, **targets})
    return Facts(recording.log, condition(recording.log.rows, rig), rig, Framing(0, 0, 0))


def with_sensors(wheel: tuple[float, ...], flyer: tuple[float, ...]) -> Scenario:
    # one foot that pushes plainly, so that the wheel's number is borne out
    return replace(
        scenario("steady"), foot=Foot(treadles=1, ripple=0.15), sensors=(Sensor("w", wheel), Sensor("f", flyer))
    )


def ratio_of(case: Scenario) -> float:
    return case.no_slip_ratio(next(p for p in case.phases if hasattr(p, "cadence_per_min")))


@pytest.mark.parametrize(
    ("flyer", "stated"), [((0.0, 0.5), 1), ((0.0,), 2), ((0.0,), 3), ((0.0, 0.5), 4)], ids=["2/1", "1/2", "1/3", "2/4"]
)
@pytest.mark.parametrize("wheel", [(0.0,), FOUR], ids=["one wheel target", "four"])
def test_a_flyer_counted_wrongly_is_told_by_the_known_ratio(wheel, flyer, stated):
    case = with_sensors(wheel, flyer)
    for seed in range(3):
        (found,) = counts_against_known(facts_of(case, seed, f=stated), [ratio_of(case)])
        assert found.id == "flyer-targets"
        assert found.confidence >= 0.8
        assert found.figures["found"] == len(flyer)
        assert found.figures["ratio_then"] == pytest.approx(ratio_of(case), rel=0.03)


def test_a_wheel_counted_as_no_flyer_could_be_is_told():
    """Five targets stated where there are two: 2/5 of the flyer's one target is none."""
    case = with_sensors((0.0, 0.5), (0.0,))
    facts = facts_of(case, 0, w=3)
    told = list(counts_against_known(facts, [ratio_of(case)]))
    assert [f.id for f in told] == ["wheel-targets"]
    assert told[0].figures["found"] == 2


@pytest.mark.parametrize("name", ["steady", "creeping-band", "slipping-band", "faulty-sensors", "hard-uneven"])
def test_right_counts_are_not_doubted(name):
    case = scenario(name)
    facts, known = facts_of(case, 1), ratio_of(case)
    assert list(counts_against_known(facts, [known])) == []
    # a reference that is 5 % off is off, not another number of targets; nor is one for another whorl
    for off in (0.95, 1.05, 0.8, 1.3):
        assert list(counts_against_known(facts, [off * known])) == []
    # nothing known, nothing said
    assert list(counts_against_known(facts, [])) == []
