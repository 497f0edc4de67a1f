"""The courses along a log that a report draws: turn by turn ratio and cadence, and the loss folded on its rhythms."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, hypot, pi

import numpy as np

from whorlpulse.actions.recording import Recording
from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.slip import SlipEstimate
from whorlpulse.estimators.slip_log import SlipLog, slip_log
from whorlpulse.estimators.slip_periodic import Line
from whorlpulse.estimators.slip_series import LossSeries, usual_advance
from whorlpulse.estimators.turn_by_turn import cadence_courses, lap_starts, ratio_courses
from whorlpulse.estimators.wheel_steps import Piece
from whorlpulse.findings.cadence_report import CadenceReport
from whorlpulse.findings.full_report import CadenceCourse, Courses, LapCourse, RhythmCourse
from whorlpulse.findings.report import RatioReport, RunLine
from whorlpulse.findings.slip_report import SlipReport
from whorlpulse.pulses import WHEEL, FloatArray
from whorlpulse.rig import Rig

_PHASES = 24
_FEWEST_A_PHASE = 3
#: A step this many robust deviations off is a burst, not the rhythm.
_FAR = 6.0
#: A step that averages over more than this of a round leaves too little of the rhythm to be freed of it.
_LEAST_LEFT = 0.1


def courses(recording: Recording, rig: Rig, ratio: RatioReport, slip: SlipReport, cadence: CadenceReport) -> Courses:
    """Return what can be drawn of a recording whose reports are these."""
    log = recording.conditioned(rig)
    own = slip_log(log) if ratio.cannot_say is None else None
    return Courses(
        laps=_laps(own, ratio) if own is not None else (),
        cadence=_cadence(log, cadence),
        rhythms=_rhythms(own, slip.found) if own is not None and slip.cannot_say is None else (),
    )


def _laps(own: SlipLog, ratio: RatioReport) -> tuple[LapCourse, ...]:
    """Ratio from each passage of a target to its next one, piece by piece, as the ratio's runs count them."""
    whorl_of = {i: w for w, line in enumerate(ratio.whorls) for i in line.runs}
    found = []
    for piece, course in zip(own.pieces, ratio_courses(own.pieces, own.targets), strict=True):
        run = _run_at(float(piece.t_s[0]), ratio.runs)
        if run is None or run not in whorl_of:
            continue
        turns = own.wheel_turns(own.stretch_of(piece), piece.passage[lap_starts(piece, own.targets)])
        found.append(LapCourse(run, whorl_of[run], 0.5 * (turns[1:] + turns[:-1]), course.begin_s, course.value))
    return tuple(found)


def _run_at(t_s: float, runs: Sequence[RunLine]) -> int | None:
    return next((i for i, r in enumerate(runs) if r.start_s - 1e-6 <= t_s <= r.end_s), None)


def _cadence(log: Conditioned, report: CadenceReport) -> tuple[CadenceCourse, ...]:
    if report.cannot_say is not None or report.clock is None:
        return ()
    rate = report.clock.rate.value
    return tuple(CadenceCourse(course.begin_s, course.value / rate) for course in cadence_courses(log))


def _rhythms(own: SlipLog, found: SlipEstimate | None) -> tuple[RhythmCourse, ...]:
    """The loss folded on each line of each whorl; the wheel's own order can't be folded (see `slip_periodic`)."""
    if found is None or found.unseen:
        return ()
    courses = []
    for number, whorl in enumerate(found.whorls):
        pieces = _pieces_of(own, [found.ratio.runs[i].start_s for i in whorl.runs])
        if not pieces:
            continue
        series, _ = own.series(pieces, usual_advance(pieces, own.log.angles[WHEEL]))
        for i, line in enumerate(whorl.lines):
            course = _folded(series, line, whorl.kept.value) if line.source != "wheel" else None
            if course is not None:
                phase, share, share_u = course
                amplitude, at = _sine(phase, share)
                courses.append(RhythmCourse(number, i, phase, share, share_u, amplitude, at))
    return tuple(courses)


def _pieces_of(own: SlipLog, starts_s: Sequence[float]) -> list[Piece]:
    """All pieces of the runs that start with a piece at one of these times."""
    first = [p for p in own.pieces if any(abs(float(p.t_s[0]) - s) < 1e-6 for s in starts_s)]
    runs = {p.run for p in first}
    return [p for p in own.pieces if p.run in runs]


def _folded(series: Sequence[LossSeries], line: Line, ratio: float) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """Mean loss in each part of the line's round, as shares of the ratio, with standard errors; None for too few.

    Only the longest stretch is folded: over a stop the phase is lost.
    """
    one = max(series, key=len, default=None)
    if one is None:
        return None
    kept = one.single & one.at_speed
    if np.count_nonzero(kept) < _FEWEST_A_PHASE * _PHASES:
        return None
    x = one.sudden[kept] / one.step_turns[kept] / ratio
    middle, gap = (0.5 * (one.turns[1:] + one.turns[:-1]))[kept], one.step_turns[kept]
    left = float(np.sinc(line.per_wheel_turn * gap.mean()))
    if abs(left) < _LEAST_LEFT:
        return None
    near = np.abs(x - np.median(x)) <= _FAR * 1.4826 * float(np.median(np.abs(x - np.median(x)))) + 1e-15
    x, middle = x[near] / left, middle[near]
    part = np.minimum(((line.per_wheel_turn * middle) % 1.0 * _PHASES).astype(int), _PHASES - 1)
    number = np.bincount(part, minlength=_PHASES)
    if number.min() < _FEWEST_A_PHASE:
        return None
    mean = np.bincount(part, x, _PHASES) / number
    spread = np.bincount(part, (x - mean[part]) ** 2, _PHASES) / np.maximum(number - 1, 1)
    return (np.arange(_PHASES) + 0.5) / _PHASES, mean, np.sqrt(spread / number)


def _sine(phase: FloatArray, share: FloatArray) -> tuple[float, float]:
    """Amplitude and phase of the first harmonic of share (m,) at even phases (m,)."""
    a = float(2.0 * np.mean(share * np.cos(2.0 * pi * phase)))
    b = float(2.0 * np.mean(share * np.sin(2.0 * pi * phase)))
    return hypot(a, b), float(atan2(b, a) / (2.0 * pi) % 1.0)
