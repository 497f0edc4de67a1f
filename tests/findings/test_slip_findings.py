"""Findings of slip: the right one for each simulated fault, none for a sound band, and words for every one."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from string import Formatter

import pytest

from whorlpulse.actions.measure_slip import measure_slip
from whorlpulse.actions.recording import read_recording
from whorlpulse.cli.inputs import Given, rig_of
from whorlpulse.cli.wheel_file import read_wheel
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.slip_reference import Reference
from whorlpulse.findings.catalogue import slip as catalogue
from whorlpulse.findings.report import Finding
from whorlpulse.findings.slip_report import SlipReport
from whorlpulse.simulate import Band, PeriodicLoss, Scenario, Sensor, Stop, Treadling, scenario, simulate
from whorlpulse.views.finding_words import as_object, is_fault, said

FOUR = (0.0, 0.25, 0.5, 0.75)
ROOT = Path(__file__).resolve().parents[2]


def report_of(case: Scenario, seed: int, off: float = 1.0, tension: str = "scotch", wheel: bool = True) -> SlipReport:
    """The report with the true no-slip ratio, times `off`, as the reference."""
    made = simulate(case, seed)
    recording = read_recording(lambda: [made.log], "log.pulses")
    rig, _ = rig_of(recording, Given(), needs_length=False)
    if wheel:
        assert made.wheel_toml is not None
        rig = read_wheel(made.wheel_toml.encode(), "wheel.toml").onto(rig)
    known = [Reference(Measured(r.no_slip_ratio * off, 1e-3), "given") for r in made.truth.runs]
    return measure_slip(recording, replace(rig, tension=tension), known)


def ids(report: SlipReport) -> list[str]:
    return [f.id for f in report.findings]


def the(report: SlipReport, key: str) -> Finding:
    (found,) = [f for f in report.findings if f.id == key]
    return found


def four(name: str) -> Scenario:
    return replace(scenario(name), sensors=(Sensor("w", FOUR), Sensor("f")), roller=None)


@pytest.mark.parametrize("seed", range(5))
def test_each_fault_of_the_bench_has_its_finding_first(seed):
    assert ids(report_of(scenario("slipping-band"), seed))[0] == "slip-bursts"
    assert ids(report_of(scenario("planned-bursts"), seed))[0] == "slip-bursts"
    assert ids(report_of(scenario("creeping-band"), seed))[0] == "band-creeps"
    assert ids(report_of(scenario("bad-joint"), seed))[0] == "band-joint"


@pytest.mark.parametrize("name", ["steady", "hard-uneven", "skein-on-plan", "three-runs", "uneven-magnets"])
@pytest.mark.parametrize("seed", range(4))
def test_a_sound_band_is_healthy_and_has_no_fault(name, seed):
    case = scenario(name) if name == "uneven-magnets" else four(name)
    report = report_of(case, seed)
    assert "band-healthy" in ids(report)
    assert [f.id for f in report.findings if is_fault(f)] == []


@pytest.mark.parametrize("off", [1.02, 1.04])
def test_a_reference_that_is_off(off):
    """A sound band, against a reference 2 or 4 % too high: a shortfall that hardly goes with anything."""
    for seed in range(4):
        report = report_of(scenario("steady"), seed, off)
        assert ids(report)[0] == "reference-off"
        assert the(report, "reference-off").confidence >= 0.8
        assert "band-creeps" not in ids(report)


def test_a_ratio_above_the_reference_is_no_slip():
    report = report_of(scenario("steady"), 1, 0.97)
    assert ids(report) == ["reference-off"]
    assert "no slip can do" in said(report.findings[0]).evidence


def test_a_brake_that_bites_while_winding():
    finding = the(report_of(scenario("creeping-band"), 2), "drag")
    assert "winding on" in said(finding).says
    assert finding.confidence <= 0.6  # a stretchy band shows the same


def test_a_rhythm_without_the_bands_length_is_not_named():
    report = report_of(scenario("bad-joint"), 1, wheel=False)
    finding = the(report, "periodic-loss")
    words = said(finding)
    assert "Without the band's length" in words.evidence
    assert "band_length" in words.do


def test_a_wheel_out_of_true_is_a_guess_and_says_how_to_decide():
    case = replace(four("steady"), band=Band(periodic=(PeriodicLoss(1.0, 0.015),)))
    finding = the(report_of(case, 1), "wheel-untrue")
    assert finding.confidence <= 0.5
    words = said(finding)
    # a share of 1.5 % shifts targets by 0.015/(2π) of a turn: 0.86°
    off = re.search(r"up to ([0-9.]+)° off", words.evidence)
    assert off
    assert float(off[1]) == pytest.approx(0.859, abs=0.03)
    assert "quarter round the wheel" in words.do


def test_without_the_bobbin_only_bursts_while_the_yarn_is_held_are_said_in_double_drive():
    scotch, double = (report_of(scenario("slipping-band"), 1, tension=t) for t in ("scotch", "double-drive"))
    assert "double-drive-unseen" in ids(double)
    assert not any(x.startswith("double-drive") for x in ids(scotch))
    held = [b for b in double.found.bursts if b.winding is False]
    assert held
    assert the(double, "slip-bursts").figures["times"] == len(held) < len(double.found.bursts)
    assert the(double, "slip-bursts").confidence == pytest.approx(0.5 * the(scotch, "slip-bursts").confidence)


def test_short_logs_say_nothing_of_the_bands_health():
    case = Scenario("short", "", (Stop(1.5), Treadling(14.0, 60.0, 1), Stop(4.0)))
    assert "band-healthy" not in ids(report_of(case, 1))


def _figures(sentences: Sequence[str]) -> set[str]:
    return {name for s in sentences for _, name, _, _ in Formatter().parse(s) if name}


def test_every_finding_has_words_and_a_chapter():
    chapters = (ROOT / "docs" / "findings.md").read_text()
    for key, words in catalogue.FINDINGS.items():
        assert f"### `{key}`" in chapters, key
        figures = _figures([words.says, *words.evidence, words.do])
        made_up = Finding(key, 0.5, dict.fromkeys(figures, 1.0))
        spoken = as_object(made_up)
        assert not re.search(r"[{}]", spoken["says"] + spoken["evidence"] + spoken["try"])
        assert spoken["kind"] == ("information" if key in catalogue.INFORMATION else "fault")
        # what needs no figure stands always: it is what the finding can't tell apart
        assert key == "slip-undecided" or any(not _figures([s]) for s in words.evidence), key


def test_who_touches_the_band_stops_the_wheel_first():
    for key in catalogue.TOUCHES_BAND - {"wheel-untrue"}:
        assert catalogue.FINDINGS[key].do.startswith("Stop the wheel")
