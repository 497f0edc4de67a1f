"""How exactly a sensor stamps its pulses: the standard deviation of one pulse's time about a smooth motion.

A shaft with inertia moves smoothly, so in the sequence of one target's passage times a high-order difference leaves
of the motion only what changes from pulse to pulse, while independent stamping errors of standard deviation σ
come out as σ·sqrt(C(2m, m)) (the sum of the squared binomial coefficients of order m, Vandermonde's identity). With
z_m = Δ^m t / sqrt(C(2m, m)) and s_m = 1.4826 median|z_m|, s_m² = σ² + b_m², and the motion's part b_m shrinks as m
grows.

Two orders tell whether it has shrunk to nothing: s_8² − s_16² is motion only, and half of it is taken off s_16² for the
motion that order 16 still holds (a share between a third and three quarters in simulated treadling). The answer is
refused when s_8 exceeds s_16 by more than 12 %, or when z_16 is far from normal (cusps of a wheel that nearly
stands at its dead centre): then the feet hide the sensor, and s_16 is only an upper limit.

Assumes stamping errors that are independent from pulse to pulse, and a shaft seen several times a wheel turn: the wheel
itself with few targets is refused, because a treadle changes its speed between two pulses.
Validated in tests/estimators/test_timing_noise.py against simulated jitter: within 25 % wherever it is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb, sqrt
from typing import Final, Literal

import numpy as np

from whorlpulse.conditioning.counted import Counted
from whorlpulse.pulses import FloatArray, IntArray

_LOW_ORDER: Final = 8
_HIGH_ORDER: Final = 16
#: Differences needed: their median is then sure to about 12 % (neighbouring differences repeat each other).
FEWEST_DIFFERENCES: Final = 100
#: Passages left out at both ends of a stretch, where the shaft speeds up or runs down.
_ENDS: Final = 12
_BLOCK: Final = 16_384
_MOST_EXCESS: Final = 1.12
_MOST_TAILS: Final = 1.15
_MOTION_LEFT: Final = 0.5
#: Of slow motion nothing is left in order 16; of what comes in a few pulses, this much at most (more shows as a sine).
_MOST_MOTION_LEFT: Final = 0.7
#: A sine's rms over its 1.4826 median is 0.67, a normal quantity's 1.
_LEAST_TAILS: Final = 0.88

Hidden = Literal["few", "feet"]


@dataclass(frozen=True)
class TimingNoise:
    """sigma_s: seconds, None where hidden says why not ("few" pulses, or the "feet").

    at_most_s: an upper limit where the feet hide it. differences: how many were judged. range_s: within what it
    lies, said or hidden, sampling apart; None for few.
    """

    sigma_s: float | None
    hidden: Hidden | None
    at_most_s: float | None
    differences: int
    range_s: tuple[float, float] | None = None


def timing_noise(pieces: Sequence[Counted], targets: int, tick_s: float) -> TimingNoise:
    """Estimate the timing noise of one shaft from its counted pieces; see the module's head.

    targets: per turn; each target is its own sequence, so that uneven angles don't matter. tick_s: the clock's
    step; a noise below tick / sqrt(12) cannot be (GUM F.2.2.1) and is raised to it.
    """
    low, high = _differences(pieces, targets)
    if len(high) < FEWEST_DIFFERENCES:
        return TimingNoise(None, "few", None, len(high))
    rms = _rms(high)
    s_low, s_high = _spread(low), _spread(high)
    floor_s = tick_s / sqrt(12.0)
    between = _between(s_low, s_high, rms, floor_s)
    if s_low > _MOST_EXCESS * s_high or rms > _MOST_TAILS * s_high:
        return TimingNoise(None, "feet", max(s_high, floor_s), len(high), between)
    variance = s_high**2 - _MOTION_LEFT * max(s_low**2 - s_high**2, 0.0)
    return TimingNoise(max(sqrt(variance), floor_s), None, None, len(high), between)


def _between(s_low: float, s_high: float, rms: float, floor_s: float) -> tuple[float, float]:
    """Within what the timing noise lies, seconds: nothing is known below where what is left isn't normal."""
    motion = max(s_low**2 - s_high**2, 0.0)
    least, most = sqrt(max(s_high**2 - _MOST_MOTION_LEFT * motion, 0.0)), s_high
    if not _LEAST_TAILS <= rms / max(s_high, 1e-12) <= _MOST_TAILS:
        least = 0.0
    return max(least, floor_s), max(most, floor_s)


def _differences(pieces: Sequence[Counted], targets: int) -> tuple[FloatArray, FloatArray]:
    """Δ^m t / sqrt(C(2m, m)), seconds, for both orders m, over passages of one target, none of them filled in: (n,)."""
    found: list[list[FloatArray]] = [[np.empty(0)], [np.empty(0)]]
    for piece in pieces:
        for target in range(targets):
            t_s, turn = _of_target(piece, targets, target)
            unbroken = bool((turn[1:] - turn[:-1] == 1).all())
            for order, z, kept in zip((_LOW_ORDER, _HIGH_ORDER), _orders(t_s), found, strict=True):
                if len(t_s) > order:
                    kept.append(z if unbroken else z[turn[order:] - turn[:-order] == order])
    low, high = (kept[1] if len(kept) == 2 else np.concatenate(kept) for kept in found)  # one piece needs no copy
    low /= sqrt(comb(2 * _LOW_ORDER, _LOW_ORDER))
    high /= sqrt(comb(2 * _HIGH_ORDER, _HIGH_ORDER))
    return low, high


def _of_target(piece: Counted, targets: int, target: int) -> tuple[FloatArray, IntArray]:
    """Times t_s (n,) and turns (n,) of the reported passages of one target, without those at both ends."""
    t_s, turn, filled = piece.t_s, piece.passage, piece.filled
    if targets > 1:
        mine = piece.passage % targets == target
        t_s, turn, filled = t_s[mine], turn[mine] // targets, filled[mine]
    inner = slice(_ENDS, -_ENDS)
    t_s, turn, filled = t_s[inner], turn[inner], filled[inner]
    return (t_s[~filled], turn[~filled]) if filled.any() else (t_s, turn)


def _orders(t_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Differences of the low order (n - low,) and the high one (n - high,), in blocks that stay in the cache."""
    n, more = len(t_s), _HIGH_ORDER - _LOW_ORDER
    low, high = np.empty(max(n - _LOW_ORDER, 0)), np.empty(max(n - _HIGH_ORDER, 0))
    for start in range(0, len(low), _BLOCK):
        z = np.diff(t_s[start : start + _BLOCK + _HIGH_ORDER], _LOW_ORDER)
        low[start : start + _BLOCK] = z[:_BLOCK]
        high[start : start + _BLOCK] = np.diff(z, more)
    return low, high


def _spread(z: FloatArray) -> float:
    """Standard deviation of a normal quantity by its median deviation (1.4826 = 1 / Φ⁻¹(3/4)); z is used up."""
    return 1.4826 * float(np.median(np.abs(z, out=z), overwrite_input=True))


def _rms(z: FloatArray) -> float:
    return sqrt(float(np.mean(z * z)))
