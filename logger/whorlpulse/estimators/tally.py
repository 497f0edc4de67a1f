"""The ratio without a sensor: from taps on two keys, or from turns that were counted and typed.

**Taps.** y_n = flyer turns, interpolated linearly in time between flyer taps, at wheel tap n:
    y_n = a + r n + e_n,      e_n independent, of variance σ²,
for a wheel that keeps its ratio; a and r by least squares, u(r) = s/√Sxx, with s² from the residuals and Student's t
for their n − 2 degrees of freedom. e_n is the scatter of the reaction times, times the flyer's speed; a delay that is
always the same falls away. For N turns without a break Sxx = N(N+1)(N+2)/12. Where a tap seems missed or doubled the
series is cut: the slope is common, the intercept begins anew, so no guess is made of what was missed.

**Counts.** W wheel turns and F flyer turns, each rounded to a step q at the count's start and at its end:
    F − r W = Σ a − r Σ b,      each a, b = difference of two values rectangular on ±q/2,
and the interval holds every r for which |F − r W| is not beyond the 95 % quantile of the right side. With
wheel_exact the b are 0: the wheel stood with its mark at the same place at the start and at the end.

Sources: least squares and t as GUM (JCGM 100:2008) H.3 and G.3; rectangular limits GUM 4.3.7; the scatter of simple
reaction times, tens of milliseconds, is common knowledge, no source. Validated by simulated coverage (tests/tally).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, inf, isfinite, sqrt
from typing import Final

import numpy as np

from whorlpulse.estimators.measured import coverage_factor
from whorlpulse.pulses import FloatArray

#: Half of the 95 % interval, as a part of the ratio, that more turns are reckoned for.
GOAL: Final = 0.01
#: Degrees of freedom below which a scatter says too little: Student's factor falls from 12.7 to 4.3 to 3.2.
_FEWEST_DOF: Final = 2
#: The same key sooner than this is a key that repeats, not a second turn (common practice, no source).
_REPEAT_S: Final = 0.1
#: A gap between flyer taps, or a step between wheel taps, is doubtful when it is off by half, or by so many of the
#: usual scatter, whichever is more.
_DOUBTFUL, _DOUBTFUL_SIGMA = 0.5, 4.5
#: Nobody taps more turns than this; the search for jumps needs memory by their square.
_LONGEST: Final = 1000
#: With more rectangular parts than this their sum is as good as normal.
_CONVOLVED: Final = 12
_GRID: Final = 60


@dataclass(frozen=True)
class TallyRatio:
    """Flyer turns per wheel turn with its 95 % interval; the turns it rests on.

    more_wheel_turns: how many more of them, counted on without a break, would bring the interval to ±1 %.
    """

    ratio: float
    low: float
    high: float
    wheel_turns: float
    flyer_turns: float
    more_wheel_turns: int


@dataclass(frozen=True)
class TapRatio:
    """What taps say. found: None while there are too few. needed: wheel turns without a break that would do.

    repeats: taps left out because the key repeated. cuts: places at which a tap seems missed or doubled.
    scatter_s: standard deviation of the timing of one wheel tap against the flyer's, None while unknown. blunt: it
    is so large that a missed tap would not be noticed.
    """

    found: TallyRatio | None
    needed: int
    repeats: int
    cuts: int
    scatter_s: float | None
    blunt: bool


@dataclass(frozen=True)
class CountRatio:
    """What typed counts say. agree: False when they differ by more than rounding can make them."""

    found: TallyRatio
    agree: bool


def ratio_from_taps(wheel_s: FloatArray, flyer_s: FloatArray) -> TapRatio:
    """Return the ratio from the times of taps, wheel_s (n,) and flyer_s (m,), in seconds, rising."""
    wheel, flyer = _without_repeats(wheel_s), _without_repeats(flyer_s)
    repeats = len(wheel_s) - len(wheel) + len(flyer_s) - len(flyer)
    pieces, cuts, blunt = _pieces(wheel, flyer)
    dof = sum(len(p) for p in pieces) - len(pieces) - 1
    if dof < _FEWEST_DOF:
        return TapRatio(None, _FEWEST_DOF + 1, repeats, cuts, None, False)
    n = np.concatenate([np.arange(len(p)) - (len(p) - 1) / 2 for p in pieces])
    y = np.concatenate([p - p.mean() for p in pieces])
    r = float(n @ y / (n @ n))
    s = float(np.sqrt((y - r * n) @ (y - r * n) / dof))
    half = coverage_factor(dof) * s / sqrt(float(n @ n))
    turns = float(sum(len(p) - 1 for p in pieces))
    made = float(sum(p[-1] - p[0] for p in pieces))
    more = 0 if half <= GOAL * r else max(_turns_to_goal(r, s) - int(turns), 1)
    pace = float(np.median(np.diff(flyer)))
    found = TallyRatio(r, max(r - half, 0.0), r + half, turns, made, more)
    return TapRatio(found, _FEWEST_DOF + 1, repeats, cuts, s * pace, blunt)


def ratio_from_counts(
    wheel_turns: Sequence[float], flyer_turns: Sequence[float], step: float, *, wheel_exact: bool = False
) -> CountRatio:
    """Return the ratio from pairs of counts, each rounded to `step` (1 or 0.5 turns) at both ends.

    wheel_exact: the wheel's counts are exact. Raises ValueError for counts that say nothing: none, or not above 0.
    """
    w, f = np.array(wheel_turns, np.float64), np.array(flyer_turns, np.float64)
    if len(w) == 0 or len(w) != len(f) or not (np.isfinite(w).all() and np.isfinite(f).all() and min(*w, *f) > 0):
        raise ValueError("give wheel and flyer turns in pairs, each above 0")
    total_w, total_f = float(w.sum()), float(f.sum())
    r = total_f / total_w

    def reach(ratio: float) -> float:
        return _rounding_quantile(len(w), step, 0.0 if wheel_exact else ratio * step)

    low = _settled(lambda x: max(total_f - reach(x), 0.0) / total_w, r)
    high = _settled(lambda x: (total_f + reach(x)) / total_w, r)
    widest = max(r - low, high - r)
    more = 0 if widest <= GOAL * r else max(ceil(reach(r * (1 + GOAL)) / (GOAL * r) - total_w), 1)
    off = np.abs(f - r * w)
    worst = step * (1.0 if wheel_exact else 1.0 + r)
    return CountRatio(TallyRatio(r, low, high, total_w, total_f, more), bool((off <= worst * (1 + w / total_w)).all()))


def _settled(step: Callable[[float], float], start: float) -> float:
    """Return x = step(x), by going on from start until nothing changes (each step shrinks the change)."""
    x = start
    for _ in range(60):
        before, x = x, step(x)
        if abs(x - before) <= 1e-7 * start:
            break
    return x


def _without_repeats(t_s: FloatArray) -> FloatArray:
    return t_s[np.diff(t_s, prepend=-inf) >= _REPEAT_S] if len(t_s) else t_s


def _pieces(wheel_s: FloatArray, flyer_s: FloatArray) -> tuple[list[FloatArray], int, bool]:
    """Return flyer turns at wheel taps by pieces that no doubtful tap parts, the number of cuts, and bluntness."""
    if len(flyer_s) < 3 or len(wheel_s) < 2:
        return [], 0, False
    seen = wheel_s[(wheel_s >= flyer_s[0]) & (wheel_s <= flyer_s[-1])]
    gap_doubtful, blunt = _doubtful(np.diff(flyer_s))
    y = np.interp(seen, flyer_s, np.arange(len(flyer_s), dtype=np.float64))
    gap = np.clip(np.searchsorted(flyer_s, seen, side="right") - 1, 0, len(flyer_s) - 2)
    piece = np.concatenate(([0], np.cumsum(gap_doubtful)))[gap]  # a new number behind each doubtful gap
    kept = ~gap_doubtful[gap]
    y, piece = y[kept], piece[kept]
    step = np.diff(y)
    same = np.diff(piece) == 0
    if same.any():
        # a wheel tap missed or doubled: the step is off by a whole turn's flyer turns; a flyer's, by a turn
        usual = float(np.median(step[same]))
        allowed = max(min(0.5 * usual, 0.7), _DOUBTFUL_SIGMA * _scatter(step[same] - usual))
        same &= np.abs(step - usual) <= allowed
    parts = np.split(y, np.flatnonzero(~same) + 1) if len(y) else []
    parts = [whole for part in parts for whole in _without_steps(part)]
    pieces = [p for p in parts if len(p) > 1]
    return pieces, max(len(parts) - 1, 0), blunt


def _without_steps(y: FloatArray) -> list[FloatArray]:
    """Part a series (n,) where it jumps off its own straight line by more than half a turn, and surely so.

    Such a jump is a flyer tap missed or doubled that stood out from its neighbours too little. For every place k the
    jump d of y = a + r n + d·(n >= k) is fitted by least squares; the one with the largest d/u(d) is judged.
    """
    n = np.arange(len(y), dtype=np.float64) - (len(y) - 1) / 2
    dof = len(y) - 3
    if not _FEWEST_DOF <= dof <= _LONGEST:
        return [y]
    steps = np.tri(len(y), k=0).T[1:] * 1.0  # one row a place: 0 before it, 1 from there on
    steps -= steps.mean(axis=1, keepdims=True)
    steps -= np.outer(steps @ n / (n @ n), n)
    residual = y - y.mean() - n * (n @ y) / (n @ n)
    power = np.einsum("ij,ij->i", steps, steps)
    jump = steps @ residual / power
    left = np.maximum(residual @ residual - jump**2 * power, 1e-12)
    sure = np.abs(jump) * np.sqrt(power * dof / left)
    k = int(np.argmax(sure))
    if abs(jump[k]) <= _DOUBTFUL or sure[k] <= _DOUBTFUL_SIGMA:
        return [y]
    return _without_steps(y[: k + 1]) + _without_steps(y[k + 1 :])


def _doubtful(gap: FloatArray) -> tuple[np.ndarray, bool]:
    """Return which gaps (n,) between taps stand out from their two neighbours on each side, and bluntness."""
    padded = np.pad(gap, 2, mode="reflect") if len(gap) > 2 else np.pad(gap, 2, mode="edge")
    around = np.stack([padded[i : i + len(gap)] for i in (0, 1, 3, 4)])
    relative = gap / np.median(around, axis=0) - 1
    allowed = max(_DOUBTFUL, _DOUBTFUL_SIGMA * _scatter(relative))
    return np.abs(relative) > allowed, bool(allowed > 0.9)


def _scatter(x: FloatArray) -> float:
    """Return a standard deviation that a few outliers don't move (1.4826 times the median absolute deviation)."""
    return 1.4826 * float(np.median(np.abs(x - np.median(x))))


def _turns_to_goal(r: float, s: float) -> int:
    """Return the fewest wheel turns N without a break that bring half of the interval to the goal."""
    n = _FEWEST_DOF + 1
    while coverage_factor(n - 1) * s * sqrt(12 / (n * (n + 1) * (n + 2))) > GOAL * r and isfinite(s):
        n += 1
    return n


def _rounding_quantile(pairs: int, flyer_step: float, wheel_step: float) -> float:
    """Return the 95 % quantile of |Σ a − Σ b|: 2 rectangular parts a pair of full width flyer_step, 2 of wheel_step."""
    widths = [flyer_step] * (2 * pairs) + ([wheel_step] * (2 * pairs) if wheel_step else [])
    if len(widths) > _CONVOLVED:
        return coverage_factor(inf) * sqrt(sum(width * width for width in widths) / 12)
    h = min(widths) / _GRID if max(widths) < 40 * min(widths) else max(widths) / 1000
    density = np.ones(1)
    for width in widths:
        density = np.convolve(density, _box(width / h))
    middle = len(density) // 2
    upper = np.concatenate(([density[middle] / 2], density[middle + 1 :]))
    share = np.concatenate(([0.0], 2 * np.cumsum(upper) / density.sum()))
    reach = np.concatenate(([0.0], np.arange(len(upper)) + 0.5))  # a grid point's part ends halfway to the next one
    return float(h * np.interp(0.95, share, reach))


def _box(width: float) -> FloatArray:
    """Return a rectangle of so many grid steps, its ends cut exactly; odd in length, of sum 1."""
    inner = max(int((width - 1) // 2), 0)
    end = (width - (2 * inner + 1)) / 2
    if width < 1:
        return np.ones(1)
    return np.concatenate(([end], np.ones(2 * inner + 1), [end])) / width
