"""When a burst began and ended, by the flyer's own pulses between the wheel's.

In an ordinary step after wheel target j the flyer's turns follow the wheel's, whose speed the foot changes within the
turn. So of ordinary steps nearby the usual course g_j(u) is learned: the part of the step's flyer turns that was made
at the part u of its time (median at `_POINTS` points). In the burst's steps

    lost(t) = due_i + c_i g_j(u(t)) − y(t)                  flyer turns since the burst's first passage

at every flyer pulse; it rises from 0 to the burst's size. The burst begins where it passes a tenth of it, and ends
at nine tenths. A slipping band also lets the wheel run faster, so u is off by what the wheel gained within one
step: the times are as good as a part of the gap between two wheel targets, and no better.
"""

from __future__ import annotations

import numpy as np

from whorlpulse.estimators.slip_bursts import Window
from whorlpulse.estimators.slip_series import LossSeries
from whorlpulse.pulses import FloatArray

_POINTS = 17
_NEAR_STEPS = 24  # ordinary steps of one target from which its course is learned
_FEWEST_STEPS = 4
_BEGUN, _ENDED = 0.1, 0.9


def burst_times(
    one: LossSeries, window: Window, usual: FloatArray, flyer_s: FloatArray, flyer_turns: FloatArray
) -> tuple[float, float]:
    """Start and end of the burst in seconds.

    one: the series that the window counts in. usual (N,): as `slip_series.usual_advance`. flyer_s, flyer_turns (m,):
    the flyer's passages of the stretch, turns on the scale of the piece's y.
    """
    t, y = one.piece.t_s, one.piece.y
    low, high = float(t[window.first]), float(t[window.last])
    inside = slice(*np.searchsorted(flyer_s, (low, high)).tolist())
    times = np.concatenate(([low], flyer_s[inside], [high]))
    turns = np.concatenate(([y[window.first]], flyer_turns[inside], [y[window.last]]))
    due = _due(one, window, usual, flyer_s, flyer_turns, times)
    lost = np.maximum.accumulate(due - (turns - turns[0]))
    total = float(lost[-1])
    if total <= 0.0:
        return low, high
    return _passes(times, lost, _BEGUN * total), _passes(times, lost, _ENDED * total)


def _passes(t: FloatArray, x: FloatArray, level: float) -> float:
    """Where x (n,), not falling, first reaches the level, between its points."""
    k = int(np.searchsorted(x, level))
    if k == 0 or k >= len(x):
        return float(t[min(k, len(t) - 1)])
    rise = float(x[k] - x[k - 1])
    return float(t[k - 1] + (t[k] - t[k - 1]) * ((level - x[k - 1]) / rise if rise > 0 else 0.0))


def _due(
    one: LossSeries,
    window: Window,
    usual: FloatArray,
    flyer_s: FloatArray,
    flyer_turns: FloatArray,
    times: FloatArray,
) -> FloatArray:
    """Flyer turns due at times (k,) since the window's first passage."""
    t, targets = one.piece.t_s, len(usual)
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
