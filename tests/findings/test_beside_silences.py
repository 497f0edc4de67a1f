"""A sensor that falls silent: what lies beside it is no burst; a flyer that stands is no silent sensor."""

from __future__ import annotations

from dataclasses import replace

from tests.accuracy.trial import trial
from tests.estimators.test_slip_slides import slack

from whorlpulse.actions.measure_slip import measure_slip
from whorlpulse.actions.recording import read_recording
from whorlpulse.cli.inputs import Given, rig_of
from whorlpulse.simulate import Board, Scenario, scenario


def report_of(case: Scenario, seed: int, cut_s: tuple[tuple[float, float], ...] = ()):
    """The slip report of a simulated log from which the flyer's lines between these times were taken."""
    made = trial(replace(case, board=Board(numbered=False, checksum=False)), seed)
    start = case.board.start_tick
    kept = [
        line
        for line in made.capture.log.splitlines(keepends=True)
        if not (line.startswith(b"f,") and any(a <= (int(line[2:]) - start) / 1e6 < b for a, b in cut_s))
    ]
    recording = read_recording(lambda: [b"".join(kept)], "cut.pulses")
    return measure_slip(recording, rig_of(recording, Given(), needs_length=False)[0]), made.truth


def test_no_event_beside_a_silence_and_real_bursts_stay():
    case = scenario("planned-bursts")
    cuts = ((20.0, 25.0), (70.0, 74.5))
    for seed in range(4):
        report, truth = report_of(case, seed, cuts)
        assert "flyer-went-silent" in [f.id for f in report.findings]
        # four bursts, two of them within three seconds of a silence, but none within a turn of it
        assert len(truth.bursts) == len(report.found.bursts) == 4
        for mine, true in zip(report.found.bursts, truth.bursts, strict=True):
            assert abs(mine.start_s - true.start_s) < 0.5
        assert "beside-silence" in [n.key for n in report.notes]
        assert next(f.confidence for f in report.findings if f.id == "slip-bursts") > 0.9


def test_a_flyer_that_runs_down_and_stands_is_no_silent_sensor():
    report, truth = report_of(slack(1.05), 2)
    assert max(b.end_s - b.start_s for b in truth.bursts) > 60.0
    ids = [f.id for f in report.findings]
    assert "flyer-stood" in ids
    assert "flyer-went-silent" not in ids
    assert not {"band-healthy", "reference-off", "band-creeps"} & set(ids)


def test_a_band_that_slides_is_said_to():
    report, _ = report_of(slack(1.17), 3)
    assert report.findings[0].id == "band-slides"
    assert not {"band-healthy", "reference-off", "band-creeps", "drag"} & {f.id for f in report.findings}
