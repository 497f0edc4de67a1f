"""What a slip looks like in the intervals of a shaft, so that it is not filled with pulses.

A missed pulse is one interval of two, three ... usual ones between neighbours that fit. A slip takes time to begin and
to end: the intervals rise and fall, and beside the longest there are others that are longer than usual, by any part.
How far from whole numbers is far is learned from the log: where treadling is taken out (`even_scale`) and an ordinary
interval is good to one or two per cent, a tenth too much is a lot; where a hard foot leaves more than six, the shape
tells nothing. So is how readily a slip is believed: in a log in which hardly a pulse was missed, more readily.

A pulse missed in the midst of a slip shows by the rise and fall (`slip_mending`). What can't be told: a slip within one
interval, by whole targets.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from whorlpulse.conditioning.running_median import median_of
from whorlpulse.conditioning.slip_mending import Pulse, Reading, smoothest
from whorlpulse.pulses import FloatArray

#: Prices of a missed and an extra pulse: -2 ln of about 3 % and 2 %.
MISSED_COST, EXTRA_COST = 7.0, 8.0
#: This percentile of deviations is 1.28 standard deviations of normal ones; the rest is for long tails.
_PERCENTILE, _ALLOWED = 80.0, 1.2
#: Standard deviations, as parts of an interval: not believed to be smaller; if larger, the shape tells nothing.
_LEAST_SD, _MOST_SD = 0.05, 0.06
#: One interval may have its own reasons: it counts for at most so much (in -2 ln likelihood), and is not enough alone.
_MOST_EACH, _OFF = 12.0, 0.3
#: The evidence asked for (-2 ln likelihood) where this share of pulses or more is missed; in sounder logs less.
_EVIDENCE, _LEAST_EVIDENCE = 18.0, 3.0
_USUAL_MISSED = 0.03
_MISSES = 0.003  # share of lone missed pulses from which on a sensor misses pulses
_SLACK_SD = 3.0  # of the rise and fall
_SHORT_SD = 4.0  # a shorter interval is no slip's
_NEIGHBOURS = 2  # good intervals on either side that tell the pace


@dataclass(frozen=True)
class SlipShape:
    """sd: standard deviation of an ordinary interval, as a part of it.

    rarer: how much dearer (in -2 ln likelihood) a missed pulse is in this log than in one that misses _USUAL_MISSED.
    misses: whether the log shows that its sensor misses pulses; else none are put into a slip.
    """

    sd: float
    rarer: float
    misses: bool

    @property
    def enough(self) -> float:
        """The evidence from which on a place is a slip; a sound log needs little."""
        return max(_EVIDENCE - 2.0 * self.rarer, _LEAST_EVIDENCE)

    def evidence(self, x: FloatArray, usual: FloatArray, left: int, right: int) -> float:
        """How surely the place between pulses left and right is a slip: -2 ln likelihood of missed pulses, or 0.

        Pulses at x (n,) with usual (n-1,) the interval expected. 0 where it doesn't look like one, or not `enough`.
        """
        interval = np.diff(x[max(left - 1, 0) : right + 2])
        return self._evidence(interval, *_pace(x, usual, left, right))

    def mended(self, x: FloatArray, usual: FloatArray, left: int, right: int) -> FaultySlip | None:
        """The passages of a slip between pulses left and right with its faults mended.

        Pulses at x (n,) with usual (n-1,) the interval expected; the passages are numbered as those are. None where
        it doesn't look like a slip, or has no faults.
        """
        first = max(left - 1, 0)
        low, high = _pace(x, usual, left, right)
        part = np.diff(x[first : right + 2]) / high
        if not ((part > 1.0 + 2.0 * self.sd) & (np.abs(part - np.rint(part)) > 2.0 * self.sd)).any():
            return None  # whole numbers or short: no slip, and quickly seen
        read = self.read(x, usual, left, right)
        if read.edits == 0:
            return None
        plain = self.evidence(x, usual, left, right) > 0.0
        if not plain and not self._evidence(np.diff([at for at, _ in read.passages]), low, high):
            return None
        return FaultySlip(read.passages, read.cost + self.enough, plain)

    def read(self, x: FloatArray, usual: FloatArray, left: int, right: int) -> Reading:
        """The smoothest reading of the place between pulses left and right, numbered as the pulses at x (n,) are."""
        first = max(left - 1, 0)
        low, _ = _pace(x, usual, left, right)
        missed = MISSED_COST + self.rarer if self.misses else np.inf
        read = smoothest(x[first : right + 2].tolist(), low, missed, EXTRA_COST)
        return replace(read, passages=[(at, None if i is None else i + first) for at, i in read.passages])

    def _evidence(self, interval: FloatArray, low: float, high: float) -> float:
        """The evidence in intervals (k,) at a place where one passage takes from low to high."""
        peak = int(np.argmax(interval))
        step, slack = np.diff(interval), _SLACK_SD * self.sd * interval[:-1]
        if (step[:peak] <= -slack[:peak]).any() or (step[peak:] >= slack[peak:]).any():
            return 0.0
        if interval.min() < (1.0 - _SHORT_SD * self.sd) * low:
            return 0.0
        whole = np.maximum(np.rint(interval / np.sqrt(low * high)), 1.0)
        beyond = np.maximum(np.maximum(interval / (whole * high) - 1.0, 1.0 - interval / (whole * low)), 0.0)
        off = np.minimum((beyond / self.sd) ** 2, _MOST_EACH)
        found = float(off.sum())
        return found if found > self.enough and np.count_nonzero(off > _OFF) > 1 else 0.0


@dataclass(frozen=True)
class FaultySlip:
    """A slip in whose midst pulses were missed or extra; passages as in `slip_mending`.

    cost: -2 ln likelihood, beside that of stories without slip. plain: it looks like a slip as reported too.
    """

    passages: Sequence[Pulse]
    cost: float
    plain: bool


def learn_slip_shape(x: FloatArray, usual: FloatArray) -> SlipShape | None:
    """Learn what is ordinary from all pulses at x (n,) and the intervals usual (n-1,); None where the feet hide it."""
    if len(usual) == 0:
        return None
    e = np.diff(x) / usual
    sd = max(_ALLOWED * float(np.percentile(np.abs(e - 1.0), _PERCENTILE)), _LEAST_SD)
    if sd >= _MOST_SD:
        return None
    # Lone missed pulses, which nothing else looks like: two usual intervals in one between sound ones.
    sound = np.abs(e - 1.0) < 3.0 * sd
    lone = (np.abs(e[1:-1] - 2.0) < 4.0 * sd) & sound[:-2] & sound[2:]
    share = max(int(lone.sum()), 1) / len(e)
    rarer = max(2.0 * float(np.log(_USUAL_MISSED / share)), 0.0)
    return SlipShape(sd, rarer, misses=bool(lone.sum() >= max(_MISSES * len(e), 1)))


def _pace(x: FloatArray, usual: FloatArray, left: int, right: int) -> tuple[float, float]:
    """The shortest and the longest interval that the place and its surroundings make likely for one passage."""
    around = [median_of(usual[left:right].tolist())]
    before = np.diff(x[max(left - _NEIGHBOURS, 0) : left + 1])
    after = np.diff(x[right : right + _NEIGHBOURS + 1])
    around += [median_of(w.tolist()) for w in (before, after) if len(w)]
    return min(around), max(around)
