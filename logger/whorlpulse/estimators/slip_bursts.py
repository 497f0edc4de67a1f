"""Bursts: sudden losses of flyer turns that stand out of the noise.

On the cumulative loss L a burst of w steps is a rise S = L_{i+w} − L_i. Against noise of standard deviation s_w for
such differences, its log likelihood ratio (mean S against mean 0) is S²/(2 s_w²). All starts and a few widths are
tried, the likeliest window is taken, what overlaps it is struck out, and so on.

The noise is far from normal, and bursts themselves make it one-sided: slip only loses. So s_w is measured on the
gains: the larger of two robust deviations of the lower half. That is also the guard against miscounts: whatever is no
slip (a pulse wrongly filled in, a wheel target off in time) gains about as often as it loses. A gain next to an equal
loss is one such mishap and both go; and of the losses that are left those are believed among which, at that size or
larger, gains are less than a quarter as many (the reasoning of false discovery rates with decoys).

Where the wheel starts up or runs down, few flyer pulses make a much-changing speed, and missed ones are not mended
there. Bursts reaching into those steps are said only from `RAMP_LOST` on, and only of logs in which next to no pulse
was missed or extra (`trust_ramps`).

Validated in tests/estimators/test_slip_bursts.py against simulated bursts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from whorlpulse.estimators.slip_series import LossSeries
from whorlpulse.pulses import BoolArray, FloatArray, IntArray

#: A smaller loss is left to creep: the band gives that much when its load changes (simulated bands).
LEAST_LOST = 0.12
RAMP_LOST = 0.5
_LEAST_LLR = 18.0  # six standard deviations
_MOST_TURNS = 2.0
_PAIR_TURNS = 1.5  # a gain so near to a loss may be its other half
_PAIR_REST = 0.3
_DECOYS = 0.25
_QUIET = 0.1  # of the largest loss of a step
_LIKE = 0.6  # a gain of this part of a loss is as large
_FEWEST = 12
_EDGE = 2.0  # standard deviations of a step: less is no loss of its own


@dataclass(frozen=True)
class Window:
    """Steps first to last - 1 of series number `series` lost `lost` flyer turns (negative: won), score s_w's."""

    series: int
    first: int
    last: int
    lost: float
    score: float


def find_windows(series: Sequence[LossSeries], targets: int, *, trust_ramps: bool) -> tuple[list[Window], list[Window]]:
    """Return the believed losses in order of time, and what was found but not believed (losses and gains)."""
    if sum(int(s.at_speed.sum()) for s in series) < _FEWEST:
        return [], []
    widths = _widths(targets)
    scales = {w: _scale(series, w) for w in widths}
    losses = _standing_out(series, scales, +1.0, trust_ramps=trust_ramps)
    gains = _standing_out(series, scales, -1.0, trust_ramps=trust_ramps)
    losses, gains, paired = _without_pairs(series, losses, gains)
    believed, rest = _against_decoys(losses, gains)
    return sorted(believed, key=lambda x: (x.series, x.first)), rest + gains + paired


def step_noise(series: Sequence[LossSeries]) -> float:
    """Standard deviation of the noise of one step, in flyer turns; infinite when there are too few."""
    return _scale(series, 1)


def _widths(targets: int) -> list[int]:
    most = max(round(_MOST_TURNS * targets), 2)
    return sorted({w for w in (1, 2, 3, 4, 6, 8, 12, 16, 24, 32) if w <= most})


def _rises(one: LossSeries, width: int) -> FloatArray:
    total = np.concatenate(([0.0], np.cumsum(one.sudden)))
    rises: FloatArray = total[width:] - total[:-width] if len(total) > width else np.empty(0)
    return rises


def _quite_at_speed(one: LossSeries, width: int) -> BoolArray:
    """Which rises over `width` steps lie at speed altogether."""
    off = np.concatenate(([0], np.cumsum(~one.at_speed)))
    quite: BoolArray = off[width:] == off[:-width] if len(off) > width else np.empty(0, bool)
    return quite


def _scale(series: Sequence[LossSeries], width: int) -> float:
    """Standard deviation of the noise of a rise over `width` steps, from the side on which nothing is lost."""
    all_rises = np.concatenate([_rises(s, width)[_quite_at_speed(s, width)] for s in series])
    if len(all_rises) < _FEWEST:
        return float("inf")
    centre = float(np.median(all_rises))
    below = centre - np.sort(all_rises[all_rises < centre])
    if len(below) == 0:
        return 1e-9
    n = len(below)
    # Quantiles 1/2 and 9/10 of the half-normal distribution: 0.6745 and 1.645 standard deviations.
    return max(float(below[n // 2]) / 0.6745, float(below[n // 10]) / 1.645, 1e-9)


def _standing_out(
    series: Sequence[LossSeries], scales: dict[int, float], sign: float, *, trust_ramps: bool
) -> list[Window]:
    """Windows whose loss (sign +1) or gain (-1) stands out, none overlapping another, with their full extent."""
    found, edge = [], _EDGE * scales[1]
    for number, one in enumerate(series):
        start, width, llr = _candidates(one, scales, sign, trust_ramps=trust_ramps)
        taken, x = np.zeros(len(one), bool), sign * one.sudden
        for k in np.argsort(-llr, kind="stable").tolist():
            first, last = int(start[k]), int(start[k] + width[k])
            if taken[first:last].any():
                continue
            first, last = _whole(x, taken | (~one.at_speed & (not trust_ramps)), first, last, edge)
            taken[first:last] = True
            for a, b in _parted(x, first, last, edge):
                found.append(Window(number, a, b, sign * float(x[a:b].sum()), float(llr[k])))
    return found


def _candidates(
    one: LossSeries, scales: dict[int, float], sign: float, *, trust_ramps: bool
) -> tuple[IntArray, IntArray, FloatArray]:
    starts, widths, ratios = [], [], []
    for width, scale in scales.items():
        rise = sign * _rises(one, width)
        least = np.where(_quite_at_speed(one, width), LEAST_LOST, RAMP_LOST if trust_ramps else np.inf)
        hit = np.flatnonzero((rise > least) & (rise * rise > 2.0 * _LEAST_LLR * scale * scale))
        starts.append(hit)
        widths.append(np.full(len(hit), width))
        ratios.append(rise[hit] ** 2 / (2.0 * scale * scale))
    return np.concatenate(starts), np.concatenate(widths), np.concatenate(ratios)


def _whole(x: FloatArray, taken: BoolArray, first: int, last: int, edge: float) -> tuple[int, int]:
    """Stretch the window over neighbours that still lose, and draw it in over ends that don't."""
    while first > 0 and not taken[first - 1] and x[first - 1] > edge:
        first -= 1
    while last < len(x) and not taken[last] and x[last] > edge:
        last += 1
    while last - first > 1 and x[first] <= edge:
        first += 1
    while last - first > 1 and x[last - 1] <= edge:
        last -= 1
    return first, last


def _parted(x: FloatArray, first: int, last: int, edge: float) -> list[tuple[int, int]]:
    """Part a window at steps inside it in which nothing was lost: those are several bursts."""
    quiet = np.flatnonzero((x[first:last] <= edge) & (x[first:last] < _QUIET * x[first:last].max())) + first
    if len(quiet) == 0:
        return [(first, last)]
    bounds = [first, *quiet.tolist(), last]
    parts = []
    for a, b in pairwise(bounds):
        a += a in quiet
        if b > a and x[a:b].sum() >= LEAST_LOST:
            parts.append((a, b))
    return parts


def _without_pairs(
    series: Sequence[LossSeries], losses: list[Window], gains: list[Window]
) -> tuple[list[Window], list[Window], list[Window]]:
    """Part off each gain with a nearby loss that it undoes."""
    gone_losses, gone_gains = set(), set()
    for g, gain in enumerate(gains):
        for k, loss in enumerate(losses):
            if loss.series != gain.series or k in gone_losses:
                continue
            turns = series[gain.series].turns
            apart = max(turns[loss.first] - turns[gain.last], turns[gain.first] - turns[loss.last])
            if apart < _PAIR_TURNS and abs(loss.lost + gain.lost) < _PAIR_REST * loss.lost:
                gone_losses.add(k)
                gone_gains.add(g)
                break
    return (
        [x for k, x in enumerate(losses) if k not in gone_losses],
        [x for g, x in enumerate(gains) if g not in gone_gains],
        [losses[k] for k in gone_losses] + [gains[g] for g in gone_gains],
    )


def _against_decoys(losses: list[Window], gains: list[Window]) -> tuple[list[Window], list[Window]]:
    """The losses down to the smallest size at which gains are still few, and the rest of them."""
    size = np.sort(np.array([-g.lost for g in gains]))
    ordered = sorted(losses, key=lambda x: -x.lost)
    keep = 0
    for count, loss in enumerate(ordered, start=1):
        as_large = len(size) - int(np.searchsorted(size, _LIKE * loss.lost))
        if as_large <= _DECOYS * count:
            keep = count
    return ordered[:keep], ordered[keep:]
