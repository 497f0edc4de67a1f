"""From a recording and a rig to the ratio report."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot, sqrt

from whorlpulse.actions.recording import (
    Recording,
    lacks_shaft,
    line_notes,
    never_together_or_few,
    pulse_notes,
    unreadable,
)
from whorlpulse.estimators.band_ratio import no_slip_ratio, slip_of
from whorlpulse.estimators.driven_shaft import Driven, driven_shaft
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.ratio import FEWEST_TURNS, RatioEstimate, RunRatio, WhorlRatio, estimate_ratio
from whorlpulse.estimators.whorl_match import match_whorls
from whorlpulse.findings.report import Note, RatioReport, RunLine, WhorlLine, note
from whorlpulse.pulses import FLYER, WHEEL
from whorlpulse.rig import Rig

#: Below so many wheel turns in the longest run, a longer run is the plainest advice.
_FEW_TURNS = 30.0
#: The band is said to wander when a run's forecast is this much wider than the run's own figure: so it is in one of 100
#: simulated logs of a steady ratio, and in all of one that drifts by 0.03 % or more.
_WANDERS = 4.0


def measure_ratio(recording: Recording, rig: Rig, notes: Sequence[Note] = ()) -> RatioReport:
    """Return the ratio report of a recording; notes: what was said already while the rig was put together."""
    conditioned = recording.conditioned(rig)
    said = [*notes, *line_notes(recording)]
    why_not = unreadable(recording, conditioned, rig)
    why_not = why_not or lacks_shaft(recording, WHEEL) or lacks_shaft(recording, FLYER)
    if why_not is not None:
        return RatioReport(recording.capture, cannot_say=why_not, notes=(*said, why_not))
    found = estimate_ratio(conditioned, rig.tick_hz, hypot(*(rig.clock_tie_u_s.get(c, 0.0) for c in "wf")))
    said += pulse_notes(conditioned)
    if found.ratio is None:
        why_not = never_together_or_few(conditioned, rig, found.wheel_turns, FEWEST_TURNS)
        return RatioReport(
            recording.capture,
            wheel_turns=found.wheel_turns,
            flyer_turns=found.flyer_turns,
            runs=_run_lines(found.runs),
            cannot_say=why_not,
            notes=(*said, why_not),
        )
    longest = max(range(len(found.runs)), key=lambda i: found.runs[i].wheel_turns)
    whorls, beside = _whorl_lines(found.whorls, rig)
    beside = [*_wander(found.runs[longest], longest), *beside]
    driven = driven_shaft(conditioned, rig)
    if driven is not None or rig.tension != "scotch":
        whorls, beside = _of_driven(found, driven, rig)
    if len(whorls) > 1:
        said.append(note("several-whorls", ratio=found.ratio, whorls=len(whorls)))
    return RatioReport(
        recording.capture,
        ratio=found.ratio,
        wheel_turns=found.wheel_turns,
        flyer_turns=found.flyer_turns,
        runs=_run_lines(found.runs),
        whorls=whorls,
        limit=_limit(found.runs[longest], rig),
        notes=(*beside, *said),
    )


def _of_driven(found: RatioEstimate, driven: Driven | None, rig: Rig) -> tuple[tuple[WhorlLine, ...], list[Note]]:
    """Return the whorls and notes where the flyer falls behind by design: the band is judged by what it drives.

    The flyer's ratio is that of the turns made in this log, yarn wound on and all; no other log need have it.
    """
    if driven is None:
        return tuple(WhorlLine(w.ratio, w.runs) for w in found.whorls), [note("ratio-lags-unseen")]
    band = estimate_ratio(driven.log, rig.tick_hz)
    if band.ratio is None:
        return tuple(WhorlLine(w.ratio, w.runs) for w in found.whorls), [note("ratio-lags-unseen")]
    lines, notes = _whorl_lines(band.whorls, driven.rig)
    names = {run: line.name for line in lines for run in line.runs}
    key = "ratio-of-bobbin" if driven.give == 1.0 else "ratio-of-both"
    own = [note(key, ratio=line.ratio, share=100.0 * driven.give) for line in lines]
    return tuple(WhorlLine(w.ratio, w.runs, names.get(w.runs[0])) for w in found.whorls), [*own, *notes]


def _run_lines(runs: Sequence[RunRatio]) -> tuple[RunLine, ...]:
    return tuple(
        RunLine(r.start_s, r.end_s, r.ratio, r.expected, r.wheel_turns, r.flyer_turns, r.cadence_hz) for r in runs
    )


def _limit(run: RunRatio, rig: Rig) -> Note:
    """Say what the interval of the longest run comes from."""
    if run.wheel_turns < _FEW_TURNS:
        return note("limit-short", wheel_turns=int(run.wheel_turns))
    seconds = run.wheel_turns / run.cadence_hz
    tick_turns = run.flyer_turns / seconds / rig.tick_hz / sqrt(12.0)  # a stamp cut to whole ticks, GUM F.2.2.1
    end_turns = run.ratio.u * run.wheel_turns / sqrt(2.0)
    if tick_turns > 0.5 * end_turns:
        return note("limit-tick", tick_us=1e6 / rig.tick_hz)
    return note("limit-timing", timing_turns=end_turns)


def _wander(run: RunRatio, number: int) -> list[Note]:
    if run.expected.half_width > _WANDERS * run.ratio.half_width:
        return [note("wander", run=number + 1, expected=run.expected)]
    return []


def _whorl_lines(found: Sequence[WhorlRatio], rig: Rig) -> tuple[tuple[WhorlLine, ...], list[Note]]:
    """Name each whorl after the wheel file's nearest; a name goes to one whorl only, the nearest."""
    notes: list[Note] = []
    if not rig.whorls:
        return tuple(WhorlLine(w.ratio, w.runs) for w in found), [note("no-wheel-file")]
    known = []
    for i, whorl in enumerate(rig.whorls):
        ratio = no_slip_ratio(rig, whorl)
        if ratio is None:
            notes.append(note("whorl-without-ratio", name=whorl.name or str(i + 1)))
        else:
            known.append((whorl.name or str(i + 1), Measured(*ratio)))
    lines = []
    for w, match in zip(found, match_whorls([w.ratio.value for w in found], [r.value for _, r in known]), strict=True):
        if match.index is None:
            lines.append(WhorlLine(w.ratio, w.runs))
            notes.append(note("whorl-unnamed", ratio=w.ratio))
            continue
        name, no_slip = known[match.index]
        lines.append(WhorlLine(w.ratio, w.runs, name, no_slip))
        notes += _against_no_slip(name, w.ratio, no_slip)
    return tuple(lines), notes


def _against_no_slip(name: str, ratio: Measured, no_slip: Measured) -> list[Note]:
    """Say how far a ratio is from the no-slip one, where that is sure."""
    slip = slip_of(ratio.value, no_slip.value)
    slip_u = sqrt((no_slip.u / no_slip.value) ** 2 + (ratio.u / ratio.value) ** 2)
    if abs(slip) <= 2.0 * slip_u:
        return []
    percent = Measured(100.0 * abs(slip), 100.0 * slip_u)
    return [note("below-no-slip" if slip > 0 else "above-no-slip", name=name, percent=percent, no_slip=no_slip)]
