"""When a burst began and ended, by the flyer's own pulses between the wheel's.

In an ordinary step after wheel target j the flyer's turns follow the wheel's, whose speed the foot changes within the
turn. So of ordinary steps nearby the usual course g_j(u) is learned: the part of the step's flyer turns that was made
at the part u of its time (median at `_POINTS` points). In the burst's steps

    lost(t) = due_i + c_i g_j(u(t)) − y(t)                  flyer turns since the burst's first passage

at every flyer pulse; it rises from 0 to the burst's size. The burst begins where it passes a tenth of it, and ends
at nine tenths. A slipping band also lets the wheel run faster, so u is off by what the wheel gained within one
step: the times are as good as a part of the gap between two wheel targets, and no better.

The course also parts slip from a missed pulse: with one missed, lost(t) jumps by a whole target between two pulses; a
flyer that slips is seen in between.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.estimators.slip_bursts import Window
from whorlpulse.estimators.slip_series import LossSeries
from whorlpulse.pulses import FloatArray

_POINTS = 17
_NEAR_STEPS = 24  # ordinary steps of one target from which its course is learned
_FEWEST_STEPS = 4
_BEGUN, _ENDED = 0.1, 0.9


@dataclass(frozen=True)
class LossCourse:
    """How a burst's loss grew: lost (k,) flyer turns at t_s (k,), the flyer's passages and the window's two ends."""

    t_s: FloatArray
    lost: FloatArray

    @property
    def start_s(self) -> float:
        """Where a tenth of the loss is passed."""
        return self._passes(_BEGUN)

    @property
    def end_s(self) -> float:
        """Where nine tenths are passed."""
        return self._passes(_ENDED)

    def _passes(self, part: float) -> float:
        grown = np.maximum.accumulate(self.lost)
        total = float(grown[-1])
        if total <= 0.0:
            return float(self.t_s[0] if part < 0.5 else self.t_s[-1])
        level = part * total
        k = int(np.searchsorted(grown, level))
        if k == 0:
            return float(self.t_s[0])
        rise = float(grown[k] - grown[k - 1])
        return float(self.t_s[k - 1] + (self.t_s[k] - self.t_s[k - 1]) * (level - float(grown[k - 1])) / rise)

    def seen_sliding(self, targets: int, beyond: float) -> bool:
        """Tell whether the flyer was seen between whole targets' worths of loss, and never gained: that is slip.

        targets: the flyer's. beyond: how far from a whole number, and how far back, an ordinary passage may be.
        """
        passages = self.lost * targets
        fallen = float((np.maximum.accumulate(passages) - passages).max())
        off = np.abs(passages[1:-1] - np.rint(passages[1:-1]))
        return fallen < beyond and bool((off > beyond).any())


def loss_course(
    one: LossSeries, window: Window, targets: int, flyer_s: FloatArray, flyer_turns: FloatArray
) -> LossCourse:
    """The course of the loss in a window of the series `one`; targets: the wheel's.

    flyer_s, flyer_turns (m,): the flyer's passages of the stretch, turns on the scale of the piece's y.
    """
    t, y = one.piece.t_s, one.piece.y
    low, high = float(t[window.first]), float(t[window.last])
    inside = slice(*np.searchsorted(flyer_s, (low, high)).tolist())
    times = np.concatenate(([low], flyer_s[inside], [high]))
    turns = np.concatenate(([y[window.first]], flyer_turns[inside], [y[window.last]]))
    due = _due(one, window, targets, flyer_s, flyer_turns, times)
    return LossCourse(times, due - (turns - turns[0]))


def _due(
    one: LossSeries,
    window: Window,
    targets: int,
    flyer_s: FloatArray,
    flyer_turns: FloatArray,
    times: FloatArray,
) -> FloatArray:
    """Flyer turns due at times (k,) since the window's first passage."""
    t = one.piece.t_s
    due = np.zeros(len(times))
    made = 0.0
    for i in range(window.first, window.last):
        advance = float(one.sudden[i] + one.piece.y[i + 1] - one.piece.y[i])  # what is usual here
        here = (times >= t[i]) & (times <= t[i + 1])
        part = (times[here] - t[i]) / (t[i + 1] - t[i])
        due[here] = made + advance * _course(one, i, targets, window, flyer_s, flyer_turns, part)
        made += advance
    return due


def _course(
    one: LossSeries,
    i: int,
    targets: int,
    window: Window,
    flyer_s: FloatArray,
    flyer_turns: FloatArray,
    part: FloatArray,
) -> FloatArray:
    """The usual part of the flyer's turns at these parts (k,) of step i's time."""
    target = one.piece.passage[i] % targets
    around = np.arange(max(i - _NEAR_STEPS * targets, 0), min(i + _NEAR_STEPS * targets, len(one)))
    like = around[one.single[around] & (one.piece.passage[around] % targets == target)]
    like = like[(like < window.first - 1) | (like > window.last)]
    like = like[np.argsort(np.abs(like - i), kind="stable")[:_NEAR_STEPS]]
    if len(like) < _FEWEST_STEPS or not one.single[i]:
        return part
    grid = np.linspace(0.0, 1.0, _POINTS)
    t, y = one.piece.t_s, one.piece.y
    courses = [
        (np.interp(t[k] + grid * (t[k + 1] - t[k]), flyer_s, flyer_turns) - y[k]) / (y[k + 1] - y[k])
        for k in like.tolist()
        if y[k + 1] > y[k]
    ]
    course = np.median(np.array(courses), axis=0)
    course[0], course[-1] = 0.0, 1.0
    shaped: FloatArray = np.interp(part, grid, course)
    return shaped
