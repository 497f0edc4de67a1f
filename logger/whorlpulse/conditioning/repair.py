"""Missed and extra pulses: the likeliest story for each place where the intervals don't fit.

A place is bounded by two pulses that fit. Between them the story says how many targets passed (K), which of the
reported pulses are passages, which are extra and which passages were missed. Its cost is minus twice a log
likelihood: rate against the neighbourhood, places against even spacing, and a price for each fault.
The coordinate x may be time, or (for the wheel) the flyer's turns, in which treadling does not show.
Where the log shows how a slip would look (`slip_shape`), what looks like one costs the stories of missed pulses more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import sqrt

import numpy as np

from whorlpulse.conditioning.running_median import median_of
from whorlpulse.conditioning.slip_mending import Pulse
from whorlpulse.conditioning.slip_shape import EXTRA_COST, MISSED_COST, SlipShape
from whorlpulse.conditioning.waits import odd_waits
from whorlpulse.pulses import FloatArray

#: Intervals beyond these parts of the usual one are looked at.
_LONG, _SHORT = 1.42, 0.62
#: A story that changes the count must place the reported pulses at least so well: slip spaces them unevenly.
MOST_MISFIT = 5.0
#: However odd the speed, a shaft may really have changed it: pulses that are evenly spaced cost no more than this.
_CHANGE_COST = 18.0
#: A missed or doubled pulse makes neighbouring intervals differ by two or more; a slipping shaft changes them gently.
_GENTLE = 1.6
#: Standard deviations, as parts of an interval, of a passage from even spacing and of the interval from the one
#: expected: under a hard treadling foot, and on a scale from which treadling was taken out. In between lies what the
#: pulses themselves show (`usual_scatter`).
TREADLED_SD, EVEN_SD = 0.15, 0.07
#: The scatter is read at this percentile, which is 1.28 standard deviations of normal deviations and which up to a
#: sixth of faulty intervals hardly touch; an interval a few away from a change of pace is off by half as much again.
_PERCENTILE, _OF_NORMAL, _ALLOWED = 80.0, 1.28, 1.5
#: Where intervals are usually so many times the median, the shaft starts up or runs down.
_SLOW = 1.5
#: Longer holes than this many targets are not filled: too much would be guessed.
_MOST_MISSED = 8


@dataclass(frozen=True)
class Repair:
    """One mended place: the pulses `extra` (indices) don't count, passages were missed at `filled` (in x).

    slipping: the shaft slipped there too, so that its turns beside another shaft's bear out nothing.
    """

    left: int
    right: int
    extra: tuple[int, ...]
    filled: tuple[float, ...]
    slipping: bool = False

    @property
    def net(self) -> int:
        """How many passages the repair adds."""
        return len(self.filled) - len(self.extra)

    def moved(self, by: int) -> Repair:
        """The same repair where the pulses are numbered `by` higher."""
        return Repair(self.left + by, self.right + by, tuple(i + by for i in self.extra), self.filled, self.slipping)


@dataclass(frozen=True)
class Story:
    """One explanation of a place: its cost, the part of it that is misfit of places, and the repair it means."""

    cost: float
    misfit: float
    repair: Repair


def usual_scatter(x: FloatArray, usual: FloatArray) -> float:
    """Return the standard deviation of places and intervals, as a part of an interval, that the pulses show.

    Pulses at x (n,) with usual (n-1,) the interval expected at each place; between EVEN_SD and TREADLED_SD.
    """
    if len(usual) == 0:
        return TREADLED_SD
    off = float(np.percentile(np.abs(np.diff(x) / usual - 1.0), _PERCENTILE)) / _OF_NORMAL
    return min(max(_ALLOWED * off, EVEN_SD), TREADLED_SD)


def find_repairs(
    x: FloatArray,
    usual: FloatArray,
    sd: float | None = None,
    most_misfit: float = np.inf,
    slip: SlipShape | None = None,
) -> list[Repair]:
    """Return the repairs for pulses at x (n,), rising, with usual (n-1,) the interval expected at each place.

    sd: standard deviation of places and intervals, as a part of an interval; None for what the pulses show where the
    shaft turns at its pace, and TREADLED_SD where it starts up or runs down.
    most_misfit: for stories that change the count. slip: how a slip would look, None where that is not known.
    """
    places = odd_places(x, usual, _LONG, _SHORT)
    if not places:
        return []
    at_pace = usual_scatter(x, usual) if sd is None else sd
    slow = _SLOW * float(np.median(usual)) if sd is None and len(usual) else np.inf
    found = []
    for left, right in places:
        here = at_pace if usual[left:right].max() < slow else TREADLED_SD
        told = stories(x, usual, left, right, here, slip=slip)
        fitting = [s for s in told.values() if s.misfit < most_misfit or s.repair.net == 0]
        best = min(fitting, key=lambda s: s.cost, default=None)
        slipped = slip.mended(x, usual, left, right) if slip is not None else None
        if slipped is not None and (slipped.plain or slipped.cost < _without_slip(x, usual, left, right, here)):
            found.append(within_slip(left, right, slipped.passages))
            continue
        if best is not None and (best.repair.extra or best.repair.filled):
            found.append(best.repair)
    return found


def _without_slip(x: FloatArray, usual: FloatArray, left: int, right: int, sd: float) -> float:
    """The cost of the likeliest story of a place if the shaft did not slip there."""
    return min((s.cost for s in stories(x, usual, left, right, sd).values()), default=np.inf)


def within_slip(left: int, right: int, passages: Sequence[Pulse]) -> Repair:
    """What was mended in a slip whose passages these are, from a pulse before `left` on."""
    kept = {i for _, i in passages if i is not None}
    extra = tuple(i for i in range(left, right + 1) if i not in kept)
    filled = tuple(at for at, i in passages if i is None)
    return Repair(left, right, extra, filled, slipping=True)


def odd_places(
    x: FloatArray, usual: FloatArray, longer: float, shorter: float, *, ends: bool = False
) -> list[tuple[int, int]]:
    """Places (left, right) bounded by pulses that fit, inside which an interval is odd.

    Odd means above `longer` or below `shorter` parts of the usual one. Places at either end, where the shaft starts
    up or runs down, have nothing on one side to be judged by; they are left out unless `ends` asks for them.
    """
    last = len(x) - 2
    if last < 2:
        return []
    odd = odd_waits(x, usual, longer, shorter)
    places = [(i - 1, j + 2) for i, j in _clusters(odd) if ends or (i > 0 and j < last)]
    return [(max(i, 0), min(j, last + 1)) for i, j in places]


def _clusters(odd: np.ndarray) -> list[tuple[int, int]]:
    """Group odd intervals that are at most two apart, so that each group is bounded by good ones."""
    if len(odd) == 0:
        return []
    cut = np.flatnonzero(np.diff(odd) > 2)
    first = np.concatenate(([0], cut + 1))
    last = np.concatenate((cut, [len(odd) - 1]))
    return [(int(odd[i]), int(odd[j])) for i, j in zip(first, last, strict=True)]


def stories(
    x: FloatArray,
    usual: FloatArray,
    left: int,
    right: int,
    sd: float,
    wanted: Sequence[int] = (),
    slip: SlipShape | None = None,
) -> dict[int, Story]:
    """The explanations of the place between pulses left and right, by how many passages they add.

    Those likely by the interval itself are told, and those that add as many as one of `wanted`.
    """
    # Plain lists: a place has a few pulses, and calling numpy for each step would cost ten times as much.
    near = x[max(left - 1, 0) : right + 2].tolist()
    interval = [after - before for before, after in pairwise(near)]
    inner = x[left + 1 : right].tolist()
    start, stretch = float(x[left]), float(x[right]) - float(x[left])
    here = _expected_interval(interval, usual, left, right)
    if stretch <= 0.0 or here <= 0.0:  # all at one place on the scale: nothing to tell them apart by
        return {}
    predicted = stretch / here
    as_reported = len(inner) + 1
    if predicted - as_reported > _MOST_MISSED:
        return {}
    nearest = max(round(predicted), 1)
    told = {}
    likely = {nearest - 1, nearest, nearest + 1, as_reported - 1, as_reported, as_reported + 1}
    for passages in likely | {as_reported + net for net in wanted}:
        if passages < 1:
            continue
        grid = [start + stretch * k / passages for k in range(1, passages)]
        cost, extra, filled = _match(inner, grid, sd * stretch / passages)
        misfit = cost - EXTRA_COST * len(extra) - MISSED_COST * len(filled)
        rate = min(((predicted - passages) / (sd * passages)) ** 2, _CHANGE_COST)
        repair = Repair(left, right, tuple(left + 1 + i for i in extra), tuple(grid[k] for k in filled))
        told[repair.net] = Story(cost + rate, misfit, repair)
    slipped = slip.evidence(x, usual, left, right) if slip is not None else 0.0
    if slip is not None and slipped:
        dearer = {net: slipped + net * slip.rarer if net > 0 else 0.0 for net in told}
        told = {net: Story(s.cost + dearer[net], s.misfit, s.repair) for net, s in told.items()}
    if told[0].cost > _CHANGE_COST and (slipped or _changes_gently(interval)):
        told[0] = Story(_CHANGE_COST, 0.0, Repair(left, right, (), ()))
    return told


def _changes_gently(interval: Sequence[float]) -> bool:
    return all(max(a, b) < _GENTLE * min(a, b) for a, b in pairwise(interval))


def _expected_interval(around: Sequence[float], usual: FloatArray, left: int, right: int) -> float:
    """The interval to expect inside: from the two good neighbours, steadied by the running median.

    around: the intervals from one before the place to one after it.
    """
    usual_here = median_of(usual[left:right].tolist())
    neighbours = ([around[0]] if left > 0 else []) + ([around[-1]] if right < len(usual) else [])
    plausible = [h for h in neighbours if 0.5 * usual_here < h < 1.6 * usual_here]
    if not plausible:
        return usual_here
    return sqrt(usual_here * (sum(plausible) / len(plausible)))


def _match(inner: Sequence[float], grid: Sequence[float], sd: float) -> tuple[float, list[int], list[int]]:
    """Match reported pulses to passages in order at least cost; return cost, extra pulses, missed passages."""
    m, k = len(inner), len(grid)
    table = [[MISSED_COST * j for j in range(k + 1)], *([EXTRA_COST * i] + k * [0.0] for i in range(1, m + 1))]
    place = [[((t - g) / sd) * ((t - g) / sd) for g in grid] for t in inner]
    for i in range(1, m + 1):
        above, row, places = table[i - 1], table[i], place[i - 1]
        for j in range(1, k + 1):
            row[j] = min(above[j - 1] + places[j - 1], above[j] + EXTRA_COST, row[j - 1] + MISSED_COST)
    extra, missed = [], []
    i, j = m, k
    while i or j:
        if i and j and table[i][j] == table[i - 1][j - 1] + place[i - 1][j - 1]:
            i, j = i - 1, j - 1
        elif i and table[i][j] == table[i - 1][j] + EXTRA_COST:
            i -= 1
            extra.append(i)
        else:
            j -= 1
            missed.append(j)
    return table[m][k], extra[::-1], missed[::-1]
