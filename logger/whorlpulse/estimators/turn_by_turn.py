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
from whorlpulse.estimators.wheel_steps import pieces_at_speed
from whorlpulse.pulses import WHEEL, FloatArray


@dataclass(frozen=True)
class Course:
    """Turns of one piece: the middle of each, t_s (n,) seconds of the log; value (n,); wheel turns of each (n,)."""

    t_s: FloatArray
    value: FloatArray
    turns: FloatArray


def ratio_courses(log: Conditioned) -> list[Course]:
    """Flyer turns for a wheel turn, turn by turn."""
    targets = len(log.angles[WHEEL].angle)
    found = []
    for piece in pieces_at_speed(log, targets):
        lap = np.flatnonzero((piece.passage - piece.passage[0]) % targets == 0)
        turns = np.diff(piece.passage[lap]) / targets
        t = piece.t_s[lap]
        found.append(Course(0.5 * (t[1:] + t[:-1]), np.diff(piece.y[lap]) / turns, turns))
    return found


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
        courses.append(Course(course.t_s, sums, course.turns))
    return courses


def cadence_courses(log: Conditioned) -> list[Course]:
    """Wheel turns a second by the board's clock, turn by turn."""
    laps = laps_of(treadled_parts(log))
    runs = [laps.run == run for run in np.unique(laps.run)]
    middle = laps.start_s + 0.5 * laps.period_s
    return [Course(middle[r], laps.turns[r] / laps.period_s[r], laps.turns[r]) for r in runs]
