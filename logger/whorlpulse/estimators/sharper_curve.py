"""The flyer's turns between its pulses where these are few: a quintic spline in place of the cubic.

With five or six flyer pulses a wheel turn a foot's beat has hardly more than two pulses a wave, and the cubic errs by
more than a good sensor does. Seen against the flyer's own count k, which is even, the times t_k are interpolated
by the quintic spline t(x) = Σ_k c_k β⁵(x − k) with continuous fourth derivative. Its coefficients
are a weighted sum of the times near by, Σ_j t_j w_j(x) with weights that are polynomials of x between two
pulses and die away by 0.43 a pulse, so that a passage needs only some pulses about it (`_weights`). A Newton step from
the cubic's angle then gives the angle at the wheel's passage.

The quintic lets 3 % more of the sensor's noise through (mean square). So it is used only below `_FEW` pulses a wheel
turn, and only where it changes the angles by more than noise makes it: by 0.02 to 0.08 of what the wheel's turns
scatter by (over √2), where a foot makes it 0.15 to 1 (simulated). Checked against scipy's `make_interp_spline` and
simulated treadling in tests/estimators/test_sharper_curve.py.
"""

from __future__ import annotations

from functools import cache
from math import sqrt
from typing import Final

import numpy as np

from whorlpulse.conditioning.counted import Counted
from whorlpulse.pulses import BoolArray, FloatArray, IntArray

#: Flyer pulses a wheel turn from which on the cubic's error is below any sensor's.
_FEW: Final = 10.0
#: The angles change by more than this part of the steps' scatter over √2 where it is the curve that errs.
_NO_NOISE: Final = 0.12
#: Wheel turns of whose scatter something can be said.
_FEWEST_TURNS: Final = 6
#: Pulses to either side that a passage looks at: 0.43¹² = 4e-5 of what the outermost is off a straight line.
_REACH: Final = 12
#: A correction by more than this part of the gap between two pulses is no ripple's (a start, a burst): the cubic stays.
_MOST: Final = 0.1
#: A larger product of matrices is shared out among threads, which cost more than they save here.
_BLOCK: Final = 1_024


def sharpened(flyer: Counted, t_s: FloatArray, y: FloatArray, targets: int) -> FloatArray:
    """Flyer turns (n,) at the wheel passages t_s (n,), by the quintic where that is better than the cubic's y (n,).

    flyer: with one target, turns counted from its first passage. targets: of the wheel. Passages near an end or a pulse
    that was put in keep y.
    """
    if len(flyer) <= 2 * _REACH + 2 or len(y) < _FEWEST_TURNS * targets:
        return y
    turn = y[targets:] - y[:-targets]
    usual = float(np.median(turn))
    if usual >= _FEW:
        return y
    sharper = _by_quintic(flyer, t_s, y)
    by, scatter = (float(np.median(np.abs(d))) for d in (sharper - y, turn - usual))
    return sharper if by > _NO_NOISE * scatter / sqrt(2.0) else y


def _by_quintic(flyer: Counted, t_s: FloatArray, y: FloatArray) -> FloatArray:
    """The quintic's flyer turns (n,) at t_s (n,), near the cubic's y (n,)."""
    good = _usual_about(flyer, t_s)
    out = y.copy()
    for start in range(0, len(good), _BLOCK):
        at = good[start : start + _BLOCK]
        out[at] = _corrected(flyer, t_s[at], y[at])
    return out


def _usual_about(flyer: Counted, t_s: FloatArray) -> IntArray:
    """Which of the times t_s (n,) have only reported, unbroken pulses about them."""
    before = np.searchsorted(flyer.t_s, t_s, side="right") - 1
    odd = np.concatenate(([0], np.cumsum(flyer.filled)))
    low, high = np.clip(before - _REACH, 0, None), np.minimum(before + _REACH + 2, len(flyer))
    inside: BoolArray = (before >= _REACH) & (before + _REACH + 1 < len(flyer))
    inside &= odd[high] == odd[low]
    inside &= flyer.passage[high - 1] - flyer.passage[low] == high - 1 - low
    return np.flatnonzero(inside)


def _corrected(flyer: Counted, t_s: FloatArray, y: FloatArray) -> FloatArray:
    """Flyer turns (n,) at t_s (n,) by one Newton step on the quintic from y (n,)."""
    before = np.searchsorted(flyer.t_s, t_s, side="right") - 1
    s = y - (flyer.passage[before] - flyer.passage[0])
    near = flyer.t_s[before[:, None] + np.arange(-_REACH, _REACH + 2)]
    here = near[:, _REACH].copy()
    gap = near[:, _REACH + 1] - here
    near -= here[:, None] + gap[:, None] * np.arange(-_REACH, _REACH + 2)  # what is left of a straight line is small
    power = near @ _weights()
    time, speed = np.zeros(len(s)), np.zeros(len(s))
    for p in power.T[::-1]:
        speed = speed * s + time
        time = time * s + p
    step = (t_s - here - gap * s - time) / np.maximum(gap + speed, 1e-12)
    left = s + step
    sharper: FloatArray = np.where((np.abs(step) < _MOST) & (left >= 0.0) & (left <= 1.0), y + step, y)
    return sharper


@cache
def _weights() -> FloatArray:
    """Weight of each pulse about a passage as a polynomial of its place between two: (2 reach + 2, 6), s⁰ first.

    On whole numbers β⁵ is (1, 26, 66, 26, 1)/120; its filter's inverse h gives the coefficients c = h * t. Between k
    and k + 1 the pieces of β⁵ are those of (x)⁵₊ differenced six times.
    """
    n = 4 * _REACH + 1
    row = np.zeros(n)
    row[[0, 1, 2, -1, -2]] = np.array([66.0, 26.0, 1.0, 26.0, 1.0]) / 120.0
    h = np.fft.irfft(1.0 / np.fft.rfft(row).real, n)  # of a ring so long that it hardly sees its own end
    binomial5, binomial6 = np.array([1, 5, 10, 10, 5, 1]), np.array([1, -6, 15, -20, 15, -6, 1])
    weights = np.zeros((2 * _REACH + 2, 6))
    for k in range(-2, 4):  # β⁵(s − k), 0 <= s < 1, is Σ_i (−1)^i C(6, i) (s + 3 − k − i)⁵₊ / 120
        piece = np.zeros(6)
        for i in range(4 - k):
            if 3 - k - i >= 0:
                piece += binomial6[i] * binomial5 * float(3 - k - i) ** np.arange(5, -1, -1) / 120.0
        weights += h[np.abs(np.arange(-_REACH, _REACH + 2) - k), None] * piece
    return weights
