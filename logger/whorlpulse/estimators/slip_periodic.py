"""Loss that comes and goes with a period: the band's joint, a wheel out of true, or something not known.

A lost share of the speed A cos(2π f θ + φ), with θ the wheel's angle in turns, takes over a step from θ_i to θ_i + g_i

    R A sin(π f g_i)/(π f) cos(2π f (θ_i + g_i/2) + φ)      flyer turns

So A is the least-squares amplitude of the steps' losses on these two columns: a periodogram on the true angles, which
need not be even. Lines are looked for on an FFT grid over the number of the step, in segments of `_SEGMENT_TURNS`
whose powers are added (a stop breaks the phase), and refined on the true angles. A line must stand out of its
neighbourhood (median of the powers there, so that slow wandering is no line) by chi-squared with two degrees of
freedom a segment, at a false alarm of `_ALARM` over all frequencies.

N targets a turn see orders up to N/2: f, N − f, N + f ... give the same steps (aliases; with uneven targets nearly
so). A line is named after the band where one of these is the band's order π(D + t)/L or a multiple of it, and then
reported at that order; else at the lowest. Whole orders of the wheel leave no trace in `sudden`, because the usual
advance from target to target holds them: with one target a turn nothing can be said of the wheel's own order, and with
several it looks like targets out of place. What tells them apart a little is the shape: a wheel out of true shifts the
angles by a pure sine a turn, misplaced targets don't; that needs four targets (`wheel_order`).

References: Scargle, Astrophys. J. 263 (1982) 835 (least squares and the exponential law of a noise line); Wilson and
Hilferty (1931) for chi-squared; frequency variance of a line as Rife and Boorstyn (1974); from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import log, pi, sqrt
from typing import Literal

import numpy as np

from whorlpulse.conditioning.targets import Angles
from whorlpulse.estimators.slip_series import LossSeries
from whorlpulse.pulses import BoolArray, FloatArray

_SEGMENT_TURNS = 256.0
_FEWEST_TURNS = 30.0
_FINER = 4  # frequencies per resolution
_ALARM = 1e-4
_LOWEST = 0.08  # per wheel turn: slower is drift, or the draws
_NEIGHBOURS = 6  # resolutions, half the width of the narrowest neighbourhood
_WIDER = 1.6
_REFINEMENTS = 14  # a thousandth of the resolution
_MOST_LINES = 4
_LEAST_SHARE = 5e-4  # of the ratio: less comes about by interpolating between flyer pulses
_INTERPOLATED = 2e-3
_NEAR_FLYERS = 0.03
_LEAST_BESIDE = 0.05  # of the largest line: less is what its fit leaves
_NAMED_WITHIN = 0.02  # of the band's order
_MULTIPLES = 4
_PURE = 0.04  # what the second order may have of the first one's power
_MOST_UNTRUE = 0.05

LineSource = Literal["wheel", "band", "unknown"]


@dataclass(frozen=True)
class Line:
    """per_wheel_turn with standard uncertainty u, share: amplitude as a part of the ratio, with share_u.

    aliases: other orders up to 2 N that would look the same. multiple: of the band's order (1 its own).
    """

    per_wheel_turn: float
    u: float
    share: float
    share_u: float
    source: LineSource
    aliases: tuple[float, ...] = ()
    multiple: int = 1


@dataclass(frozen=True)
class _Segment:
    """middle (n,) wheel turns in the middle of each step, gap (n,) its wheel turns, x (n,) its loss, index (n,)."""

    middle: FloatArray
    gap: FloatArray
    x: FloatArray
    index: np.ndarray


def find_lines(
    series: Sequence[LossSeries], ordinary: Sequence[BoolArray], targets: int, ratio: float, band: tuple[float, float]
) -> tuple[Line, ...]:
    """Return the lines, the largest first.

    ordinary[i] (n,): the steps of series[i] that are no bursts. ratio: flyer turns per wheel turn. band: the band's
    order with its standard uncertainty, NaN where not known.
    """
    segments = [s for one, kept in zip(series, ordinary, strict=True) for s in _segments(one, kept, targets)]
    found: list[Line] = []
    if sum(float(np.ptp(s.middle)) for s in segments) < _FEWEST_TURNS:
        return ()
    for _ in range(_MOST_LINES):
        f = _strongest(segments, targets)
        if f is None:
            break
        f = _refined(segments, f)
        line = _named(_measured(segments, f, ratio), targets, band, segments, ratio)
        segments = [replace(s, x=s.x - _fitted(s, f)) for s in segments]
        if line.share > (_INTERPOLATED if _flyers_own(f, ratio) else _LEAST_SHARE):
            found.append(line)
    largest = max((line.share for line in found), default=0.0)
    return tuple(sorted((x for x in found if x.share > _LEAST_BESIDE * largest), key=lambda line: -line.share))


def _flyers_own(f: float, ratio: float) -> bool:
    """Whether a line has the flyer's own rhythm, R times a wheel turn but for whole turns.

    The flyer's turns between two of its pulses are interpolated, and a hard foot makes that err with this rhythm.
    """
    off = (f - ratio + 0.5) % 1.0 - 0.5, (f + ratio + 0.5) % 1.0 - 0.5
    return min(abs(x) for x in off) < _NEAR_FLYERS


def _segments(one: LossSeries, kept: BoolArray, targets: int) -> list[_Segment]:
    """Cut a series into segments of about `_SEGMENT_TURNS`; large steps are clipped, so that none makes a line."""
    kept = kept & one.single & one.at_speed
    if kept.sum() < 16:
        return []
    parts = max(round(float(np.ptp(one.turns)) / _SEGMENT_TURNS), 1)
    middle, gap = 0.5 * (one.turns[1:] + one.turns[:-1]), one.step_turns
    index = one.piece.passage[:-1] - one.piece.passage[0]
    bound = 6.0 * 1.4826 * float(np.median(np.abs(one.sudden[kept]))) + 1e-12
    x = np.clip(one.sudden, -bound, bound)
    pieces = [k for k in np.array_split(np.flatnonzero(kept), parts) if len(k) >= 16]
    return [_Segment(middle[k], gap[k], x[k] - x[k].mean(), index[k] - index[k[0]]) for k in pieces]


def _power(segments: Sequence[_Segment], size: int) -> FloatArray:
    """Sum over the segments of |FFT|² scaled so that white noise gives chi-squared / 2 of two degrees each."""
    power = np.zeros(size // 2 + 1)
    for s in segments:
        even = np.zeros(size)
        even[s.index] = s.x
        spread = float(s.x @ s.x)
        if spread > 0.0:
            power += np.abs(np.fft.rfft(even)) ** 2 / spread
    return power


def _strongest(segments: Sequence[_Segment], targets: int) -> float | None:
    """Frequency per wheel turn of the line that stands out most, or None."""
    longest = max(int(s.index[-1]) + 1 for s in segments)
    size = 1 << int(np.ceil(np.log2(_FINER * longest)))
    power = _power(segments, size)
    f = np.arange(len(power)) * targets / size
    reach = max(_NEIGHBOURS * size // longest, 8)
    usual = _local_median(power, reach) / _median_of_mean(len(segments))
    excess = power / np.maximum(usual, 1e-300)
    excess[f < max(_LOWEST, 3.0 * targets / longest)] = 0.0
    excess[np.abs(f - np.rint(f)) < 1.5 * targets / longest] = 0.0  # the wheel's own orders were taken out
    best = int(excess.argmax())
    independent = len(power) / (size / longest)
    return float(f[best]) if excess[best] > _threshold(len(segments), _ALARM / independent) else None


def _local_median(power: FloatArray, reach: int) -> FloatArray:
    """Level of power (n,) about each frequency: medians of blocks, joined by straight lines in both logarithms.

    Blocks are at least 2 reach wide and grow with the frequency by `_WIDER`: wandering falls off as a power of it.
    """
    edges = [reach]
    while edges[-1] < len(power):
        edges.append(max(round(edges[-1] * _WIDER), edges[-1] + 2 * reach))
    blocks = [power[i:j] for i, j in pairwise(edges) if len(power[i:j]) >= reach] or [power]
    centres = [0.5 * (i + min(j, len(power))) for i, j in pairwise(edges)][: len(blocks)] or [0.5 * len(power)]
    medians = [max(float(np.median(block)), 1e-300) for block in blocks]
    index = np.log(np.maximum(np.arange(len(power), dtype=float), 1.0))
    level: FloatArray = np.exp(np.interp(index, np.log(centres), np.log(medians)))
    return level


def _threshold(segments: int, alarm: float) -> float:
    """Mean of `segments` unit exponentials that is exceeded with probability alarm (Wilson and Hilferty)."""
    z = sqrt(-2.0 * log(alarm))
    z -= (2.515517 + 0.802853 * z + 0.010328 * z * z) / (1 + 1.432788 * z + 0.189269 * z * z + 0.001308 * z**3)
    k = 2.0 * segments
    return float(segments * (1.0 - 2.0 / (9.0 * k) + z * sqrt(2.0 / (9.0 * k))) ** 3)


def _median_of_mean(segments: int) -> float:
    """Median of the sum of so many unit exponentials over their number."""
    k = 2.0 * segments
    return float((1.0 - 2.0 / (9.0 * k)) ** 3)


def _columns(s: _Segment, f: float) -> FloatArray:
    angle = 2.0 * pi * f * s.middle
    reach = np.sinc(f * s.gap) * s.gap
    return np.stack((reach * np.cos(angle), reach * np.sin(angle)), axis=1)


def _fit(s: _Segment, f: float) -> tuple[FloatArray, float]:
    """Least-squares coefficients (2,) and the sum of squares they explain."""
    columns = _columns(s, f)
    right = columns.T @ s.x
    coefficients = np.asarray(np.linalg.lstsq(columns.T @ columns, right, rcond=1e-9)[0], np.float64)
    return coefficients, float(right @ coefficients)


def _fitted(s: _Segment, f: float) -> FloatArray:
    fitted: FloatArray = _columns(s, f) @ _fit(s, f)[0]
    return fitted


def _refined(segments: Sequence[_Segment], f: float) -> float:
    """The frequency near f that explains most, by golden section within a resolution."""
    longest = max(float(np.ptp(s.middle)) for s in segments)

    def gain(x: float) -> float:
        return sum(_fit(s, x)[1] / max(float(s.x @ s.x), 1e-300) for s in segments)

    low, high, golden = f - 0.5 / longest, f + 0.5 / longest, 0.5 * (sqrt(5.0) - 1.0)
    a, b = high - golden * (high - low), low + golden * (high - low)
    gain_a, gain_b = gain(a), gain(b)
    for _ in range(_REFINEMENTS):
        if gain_b > gain_a:
            low, a, gain_a = a, b, gain_b
            b = low + golden * (high - low)
            gain_b = gain(b)
        else:
            high, b, gain_b = b, a, gain_a
            a = high - golden * (high - low)
            gain_a = gain(a)
    return 0.5 * (low + high)


def _measured(segments: Sequence[_Segment], f: float, ratio: float) -> Line:
    """Size of the line at f and both uncertainties, from the residuals of the fit."""
    power = power_u2 = weight = precision = 0.0
    for s in segments:
        coefficients, explained = _fit(s, f)
        n, turns = len(s.x), float(np.ptp(s.middle))
        variance = max(float(s.x @ s.x) - explained, 1e-30) / max(n - 3, 1)
        reach2 = 0.5 * float(np.sum((np.sinc(f * s.gap) * s.gap) ** 2))
        square = float(coefficients @ coefficients)
        power += turns * max(square - 2.0 * variance / reach2, 0.0)
        power_u2 += turns * turns * 4.0 * square * variance / reach2
        weight += turns
        # Fisher information on f of n samples with amplitude²/variance, phase not known: n (2π)² SNR/2 · turns²/12.
        precision += 0.5 * square * reach2 * 2.0 / variance * (2.0 * pi * turns) ** 2 / 12.0
    amplitude = sqrt(power / weight)
    amplitude_u = sqrt(power_u2) / weight / (2.0 * max(amplitude, 1e-30))
    return Line(f, sqrt(1.0 / max(precision, 1e-30)), amplitude / ratio, amplitude_u / ratio, "unknown")


def _named(line: Line, targets: int, band: tuple[float, float], segments: Sequence[_Segment], ratio: float) -> Line:
    """Name the line after the band where it or an alias is a multiple of the band's order."""
    order, order_u = band
    same = [line.per_wheel_turn]
    for turn in range(targets, 3 * targets + 1, targets):
        same += [turn - line.per_wheel_turn, turn + line.per_wheel_turn]
    best: tuple[float, float, int] | None = None
    if np.isfinite(order):
        for multiple in range(1, _MULTIPLES + 1):
            for f in same:
                off = abs(f - multiple * order)
                allowed = min(_NAMED_WITHIN * multiple * order, 3.0 * (multiple * order_u + line.u) + 0.002)
                if off < allowed and (best is None or multiple < best[2]):
                    best = (off, f, multiple)
    if best is not None:
        at = _measured(segments, best[1], ratio)
        line = replace(
            line, per_wheel_turn=best[1], share=at.share, share_u=at.share_u, source="band", multiple=best[2]
        )
    others = sorted(f for f in same if f <= 2 * targets and abs(f - line.per_wheel_turn) > 1e-9)
    return replace(line, aliases=tuple(others))


def wheel_order(angles: Angles) -> Line | None:
    """The wheel's own order, from the angles at which its targets seem to stand; None where they don't look like it.

    A ratio R (1 + A cos(2π(θ − θ0))) shifts the flyer's count at the targets by A/(2π) sin(...) of a turn. Needs four
    measured targets; their deviations from even spacing must be a pure sine a turn. Targets that happen to be
    misplaced like that look the same.
    """
    n = len(angles.angle)
    if n < 4 or not angles.measured:
        return None
    off = np.fft.rfft(angles.angle - np.arange(n) / n)[1:]
    power = np.abs(off) ** 2
    if n % 2 == 0:
        power[-1] *= 0.5
    share = 2.0 * pi * 2.0 * float(np.abs(off[0])) / n
    share_u = 2.0 * pi * 2.0 * float(angles.u.max()) / sqrt(n)
    pure = float(power[1:].sum()) < _PURE * float(power[0]) + 4.0 * float(angles.u.max()) ** 2 * n / 4.0
    if not pure or share < 4.0 * share_u or not _LEAST_SHARE < share < _MOST_UNTRUE:
        return None
    return Line(1.0, 0.0, share, share_u, "wheel", tuple(float(k * n + s) for k in (1, 2) for s in (-1, 1)))
