"""Courses along a log, wheel turn by wheel turn: what is drawn of ratio, loss and cadence; no estimate is made of them.

    ratio of a turn    flyer turns from a passage of one wheel target to its next, over the wheel turns between (1, or
                       more where passages were filled in)
    loss               Σ (R₀ − ratio of a turn)·(its wheel turns): flyer turns lost so far of those due at R₀
    cadence            wheel turns over their time, from passage to passage of one target

Each course is one unbroken piece of the log at speed, as the estimators of these quantities count it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.laps import laps_of, treadled_parts
from whorlpulse.estimators.slip import SlipEstimate
from whorlpulse.estimators.wheel_steps import Piece
from whorlpulse.pulses import FloatArray, IntArray


@dataclass(frozen=True)
class Course:
    """Turns of one piece: each from begin_s (n,) to end_s (n,) seconds of the log, its value (n,), its turns (n,)."""

    begin_s: FloatArray
    end_s: FloatArray
    value: FloatArray
    turns: FloatArray

    @property
    def t_s(self) -> FloatArray:
        """The middle of each turn (n,) in seconds."""
        middle: FloatArray = 0.5 * (self.begin_s + self.end_s)
        return middle


def ratio_courses(pieces: Sequence[Piece], targets: int) -> list[Course]:
    """Flyer turns for a wheel turn, turn by turn: a course for each piece at speed."""
    found = []
    for piece in pieces:
        lap = lap_starts(piece, targets)
        t, turns = piece.t_s[lap], np.diff(piece.passage[lap]) / targets
        found.append(Course(t[:-1], t[1:], np.diff(piece.y[lap]) / turns, turns))
    return found


def lap_starts(piece: Piece, targets: int) -> IntArray:
    """Which passages (m,) of a piece are of its first target: between two of them lies a turn, or several."""
    return np.flatnonzero((piece.passage - piece.passage[0]) % targets == 0)


def loss_courses(ratios: Sequence[Course], found: SlipEstimate) -> list[Course]:
    """Flyer turns lost so far against each whorl's reference; ratios: of the same log. Losses add up over the log."""
    spans = [
        (found.ratio.runs[i].start_s, found.ratio.runs[i].end_s, w.reference.ratio.value)
        for w in found.whorls
        for i in w.runs
    ]
    lost, courses = 0.0, []
    for course in ratios:
        reference = next((r for start, end, r in spans if start <= course.t_s[0] <= end), None)
        if reference is None:
            continue
        sums = lost + np.cumsum((reference - course.value) * course.turns)
        lost = float(sums[-1])
        courses.append(Course(course.begin_s, course.end_s, sums, course.turns))
    return courses


def cadence_courses(log: Conditioned) -> list[Course]:
    """Wheel turns a second by the board's clock, turn by turn."""
    laps = laps_of(treadled_parts(log))
    runs = [laps.run == run for run in np.unique(laps.run)]
    end, hz = laps.start_s + laps.period_s, laps.turns / laps.period_s
    return [Course(laps.start_s[r], end[r], hz[r], laps.turns[r]) for r in runs]
