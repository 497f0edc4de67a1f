"""A scale on which treadling doesn't show: time stretched by the wheel's usual speed profile within a turn.

Feet push once or twice a turn, at the same places each turn. From turns that were counted without fault the mean
profile is learned: which part of its turn the wheel has made after which part of the turn's time. On the scale
"wheel turns by that profile" the flyer's targets pass evenly, and a missed one stands out even under a hard foot.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.counted import Counted
from whorlpulse.pulses import BoolArray, FloatArray

_BINS = 24
_FEWEST_TURNS = 8
_BLOCK = 16_384  # values at a time: the temporaries stay in the cache


@dataclass(frozen=True)
class EvenScale:
    """A rising map between time and scale by its knots: t_s (k,), x (k,); straight beyond its ends."""

    t_s: FloatArray
    x: FloatArray

    def forward(self, t_s: FloatArray) -> FloatArray:
        """Scale values at times t_s (n,)."""
        return _interpolate(t_s, self.t_s, self.x)

    def back(self, x: FloatArray) -> FloatArray:
        """Times at scale values x (n,)."""
        return _interpolate(x, self.x, self.t_s)


def _interpolate(at: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    first, last = (y[1] - y[0]) / (x[1] - x[0]), (y[-1] - y[-2]) / (x[-1] - x[-2])
    out = np.empty(len(at))
    for start in range(0, len(at), _BLOCK):
        here = at[start : start + _BLOCK]
        inside = np.interp(here, x, y)
        inside = np.where(here < x[0], y[0] + (here - x[0]) * first, inside)
        out[start : start + _BLOCK] = np.where(here > x[-1], y[-1] + (here - x[-1]) * last, inside)
    return out


def plain_time(t_s: FloatArray) -> EvenScale:
    """The scale that is time itself."""
    ends = np.array([t_s[0], t_s[0] + max(1.0, np.spacing(np.abs(t_s[0])))])  # a slow clock's seconds may be large
    return EvenScale(ends, ends)


def learn_even_scale(flyer: Counted, turn_starts: FloatArray, sound: BoolArray) -> EvenScale | None:
    """Learn the profile from the flyer's passages in the sound turns, and lay it over all turns.

    turn_starts (n,): times at which the wheel passed the same target. sound (n-1,): turns counted without fault.
    None with fewer than eight sound turns, or when the bins don't fill.
    """
    if sound.sum() < _FEWEST_TURNS:
        return None
    turn = np.searchsorted(turn_starts, flyer.t_s, side="right") - 1
    inside = (turn >= 0) & (turn < len(sound))
    inside[inside] &= sound[turn[inside]]
    turn, t, count = turn[inside], flyer.t_s[inside], flyer.passage[inside].astype(float)
    duration = np.diff(turn_starts)
    part = (t - turn_starts[turn]) / duration[turn]
    at_start = np.interp(turn_starts, flyer.t_s, flyer.passage.astype(float))
    made = (count - at_start[turn]) / np.diff(at_start)[turn]
    profile = _mean_profile(part, made)
    if profile is None:
        return None
    edges = np.arange(_BINS) / _BINS
    t_knots = (turn_starts[:-1, None] + duration[:, None] * edges).ravel()
    x_knots = (np.arange(len(sound))[:, None] + profile).ravel()
    return EvenScale(np.append(t_knots, turn_starts[-1]), np.append(x_knots, float(len(sound))))


def _mean_profile(part: FloatArray, made: FloatArray) -> FloatArray | None:
    """Part of the turn made at the start of each bin of its time: the mean deviation from straight, by bin edge."""
    label = np.rint(part * _BINS).astype(np.int64) % _BINS
    number = np.bincount(label, minlength=_BINS)
    if number.min() < 2:
        return None
    deviation = np.bincount(label, made - part, minlength=_BINS) / number
    profile = np.arange(_BINS) / _BINS + deviation - deviation[0]
    return profile if (np.diff(np.append(profile, 1.0)) > 0).all() else None
