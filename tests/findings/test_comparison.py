"""Verdicts by hand, and how often they are wrong on simulated pairs of which nothing, or a known thing, was changed."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from whorlpulse.actions.compare_logs import compare_logs
from whorlpulse.actions.recording import Side, read_recording
from whorlpulse.cli.inputs import Given, rig_of
from whorlpulse.estimators.difference import Span
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.slip_reference import Reference
from whorlpulse.findings.comparison import CompareReport, Row, judged
from whorlpulse.simulate import Band, Scenario, Sensor, SlipBurst, Truth, scenario, simulate

FOUR = (Sensor("w", (0.0, 0.25, 0.5, 0.75)), Sensor("f"))


def side(case: Scenario, seed: int) -> tuple[Side, Truth]:
    capture = simulate(case, seed)
    recording = read_recording(lambda: [capture.log], f"{case.name}-{seed}")
    return Side(recording, *rig_of(recording, Given(), needs_length=False)), capture.truth


def the(report: CompareReport, what: str) -> Row:
    rows = [*report.whole, *(r for w in report.whorls for r in w.rows)]
    (found,) = [r for r in rows if r.what == what]
    return found


def test_verdicts_by_hand():
    sure = judged(Span(-3.1, -3.5, -2.7), 0.2, -1)
    assert (sure.kind, sure.better) == ("sure", True)
    assert judged(Span(3.1, 2.7, 3.5), 0.2, -1).better is False
    assert judged(Span(3.1, 2.7, 3.5), 0.2, 0).better is None
    assert judged(Span(0.05, 0.04, 0.06), 0.2, -1).kind == "slight"
    assert judged(None, 0.2, -1).kind == "unknown"


def test_how_much_longer_goes_with_the_square():
    # ± 0.8 and a difference of 0.4: twice as fine needs four times as long
    wide = judged(Span(0.4, -0.4, 1.2), 0.2, -1)
    assert (wide.kind, wide.shows, wide.longer, wide.target) == ("none", pytest.approx(0.8), 4, 0.4)
    # what these logs show well enough needs no longer ones
    fine = judged(Span(0.01, -0.1, 0.12), 0.2, -1)
    assert (fine.kind, fine.longer) == ("none", None)
    assert fine.shows == pytest.approx(0.11)


@cache
def same_wheel_pairs(name: str) -> tuple[CompareReport, ...]:
    case = scenario(name)
    return tuple(compare_logs(side(case, 2 * k)[0], side(case, 2 * k + 1)[0]) for k in range(20))


@pytest.mark.parametrize("name", ["steady", "creeping-band", "slipping-band"])
@pytest.mark.parametrize("what", ["slip", "creep", "burst-rate", "cadence", "steadiness"])
def test_an_unchanged_wheel_is_seldom_said_to_have_changed(name, what):
    """Twenty pairs of the same simulated wheel with other feet: 95 % intervals let about one through."""
    sure = sum(the(report, what).verdict.kind in ("sure", "slight") for report in same_wheel_pairs(name))
    assert sure <= 4  # of 20 at 5 % each, five or more come once in 390


def test_a_tighter_band_is_better_by_what_the_bursts_cost():
    bursts = tuple(SlipBurst(8.0 + 4.0 * k, 0.9, 0.5) for k in range(20))
    case = replace(scenario("planned-bursts"), sensors=FOUR)
    (before, truth), (after, _) = side(replace(case, band=Band(bursts=bursts)), 3), side(replace(case, band=Band()), 4)
    report = compare_logs(before, after)
    slip = the(report, "slip")
    (run,) = truth.runs
    lost = sum(b.lost_turns for b in truth.bursts) / (run.no_slip_ratio * run.wheel_turns)
    assert slip.verdict.kind == "sure"
    assert slip.verdict.better is True
    # of 20 bursts about one more or fewer may fall into the counted turns
    assert slip.difference.value == pytest.approx(-100.0 * lost, rel=0.1)
    assert slip.first is None  # the level is not known without a reference
    assert the(report, "burst-rate").verdict.better is True
    assert the(report, "creep").verdict.kind != "sure"


def test_creep_differs_by_the_truths_difference_whatever_the_reference():
    """The reference is 1 % off and 0.5 % unsure; the levels are wrong by it, the difference is not."""
    soft = replace(scenario("creeping-band"), sensors=FOUR, yarn=None, roller=None)
    (before, truth_a), (after, truth_b) = side(soft, 5), side(replace(soft, band=Band()), 6)
    true = truth_b.creep_percent - truth_a.creep_percent
    for off in (1.0, 1.01):
        r0 = truth_a.runs[0].no_slip_ratio * off
        report = compare_logs(before, after, [Reference(Measured(r0, 0.005 * r0), "given")])
        creep = the(report, "creep")
        # bar for creep against a known reference: 0.1 points
        assert creep.difference.value == pytest.approx(true, abs=0.1)
        assert creep.verdict.kind == "sure"
        half = (creep.difference.high - creep.difference.low) / 2
        level = (creep.first.high - creep.first.low) / 2
        assert half < 0.2 * level


def test_another_whorl_has_no_partner():
    case = scenario("three-whorls")
    one = replace(case, phases=case.phases[:2])
    other = replace(case, phases=(*case.phases[:1], replace(case.phases[1], whorl=2)))
    report = compare_logs(side(one, 7)[0], side(other, 8)[0])
    assert report.whorls == ()
    assert report.notes[0].key == "no-common-whorl"
    assert report.first.alone[0].value < report.second.alone[0].value
    assert the(report, "cadence").difference is not None


def test_whorls_are_matched_by_ratio():
    case = scenario("three-whorls")
    report = compare_logs(side(case, 9)[0], side(case, 10)[0])
    assert len(report.whorls) == 3
    for whorl in report.whorls:
        (ratio,) = [r for r in whorl.rows if r.what == "ratio"]
        assert ratio.first.value == pytest.approx(ratio.second.value, rel=0.01)
