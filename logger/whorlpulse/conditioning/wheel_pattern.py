"""Several targets on the wheel: which one was it, and was one missed?

With magnets tens of degrees off, a long interval may be a missed target or just a wide gap. The pattern of gaps
repeats every turn, measured in the flyer's turns, so it is learned from a regular part of the log and then every
pulse is given its target by the least costly path (Viterbi): a step costs its misfit, a missed target and an
extra pulse have their prices, and no single misfit, such as a miscounted flyer, may cost enough to turn the
pattern round.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.pulses import BoolArray, FloatArray, IntArray

_MISFIT_SD = 0.025  # of a turn
_MOST_MISFIT = 14.0
_MISSED_COST, _EXTRA_COST = 7.0, 8.0
_MOST_TURNS = 3  # a step over more than this many turns is not explained
_REGULAR = 0.06
#: Gaps that differ less than this from even spacing need no pattern.
EVEN_ENOUGH = 0.1


@dataclass(frozen=True)
class Pattern:
    """Target angles, in turns, from the first target (0): angle (N,); turn: flyer passages a wheel turn."""

    angle: FloatArray
    turn: float

    @property
    def unevenness(self) -> float:
        """The largest deviation of a gap from even spacing, as a part of the even gap."""
        gaps = np.diff(np.append(self.angle, 1.0)) * len(self.angle)
        return float(np.abs(gaps - 1).max())


def learn_pattern(y: FloatArray, targets: int) -> Pattern | None:
    """Learn the pattern from the longest part of y (n,), flyer passages at wheel pulses, that repeats every turn.

    None when no four turns in a row repeat.
    """
    if len(y) < 5 * targets:
        return None
    turn = y[targets:] - y[:-targets]
    usual = float(np.median(turn))
    regular = np.abs(turn - usual) < _REGULAR * usual
    start, length = _longest_true(regular)
    if length < 4 * targets:
        return None
    first = np.arange(start, start + length - targets + 1, targets)
    local = turn[first]
    angle = np.array([np.median((y[first + j] - y[first]) / local) for j in range(targets)])
    return Pattern(angle, usual)


def _longest_true(mask: BoolArray) -> tuple[int, int]:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    if len(edges) == 0:
        return 0, 0
    lengths = edges[1::2] - edges[::2]
    best = int(np.argmax(lengths))
    return int(edges[2 * best]), int(lengths[best])


def follows(y: FloatArray, pattern: Pattern) -> bool:
    """Tell whether every pulse of y (n,) is one passage, in the pattern's order from some target on."""
    n = len(pattern.angle)
    gaps = np.diff(np.append(pattern.angle, 1.0))
    steps = np.diff(y) / pattern.turn
    for shift in range(n):
        expected = gaps[(np.arange(len(steps)) + shift) % n]
        if (np.abs(steps - expected) < 4 * _MISFIT_SD).all():
            return True
    return False


def decode(y: FloatArray, pattern: Pattern) -> tuple[IntArray, BoolArray]:
    """Number the passages of wheel pulses at y (n,), flyer passages.

    Returns passage (n,) int64, whose remainder by the number of targets names the target, and extra (n,) True
    for pulses that are no passage.
    """
    u = y / pattern.turn
    targets = len(pattern.angle)
    # step[c, d]: angle from target c to the next passage of target d; jump[c, d]: passages between them.
    angle = pattern.angle
    step = (angle[None, :] - angle[:, None]) % 1.0
    np.fill_diagonal(step, 1.0)
    jump = (np.arange(targets)[None, :] - np.arange(targets)[:, None]) % targets
    np.fill_diagonal(jump, targets)
    turns = np.arange(_MOST_TURNS + 1)
    steps = step[:, :, None] + turns  # (c, d, whole turns more)
    jumps = jump[:, :, None] + targets * turns
    price = _MISSED_COST * np.minimum(jumps - 1, 4)

    n = len(u)
    cost = np.full((n, targets), np.inf)
    back = np.zeros((n, targets, 3), np.int64)  # pulse before, its target, passages since
    cost[0] = 0.0
    for i in range(1, n):
        for skipped in range(min(3, i)):
            j = i - 1 - skipped
            misfit = np.minimum(((u[i] - u[j] - steps) / _MISFIT_SD) ** 2, _MOST_MISFIT) + price
            best = misfit.argmin(axis=2)
            rows = np.take_along_axis(misfit, best[:, :, None], axis=2)[:, :, 0] + cost[j][:, None]
            source = rows.argmin(axis=0)
            total = rows[source, np.arange(targets)] + skipped * _EXTRA_COST
            better = total < cost[i] - 1e-9
            for d in np.flatnonzero(better):
                c = int(source[d])
                cost[i, d] = total[d]
                back[i, d] = (j, c, jumps[c, d, best[c, d]])
    return _trace(cost, back)


def _trace(cost: FloatArray, back: IntArray) -> tuple[IntArray, BoolArray]:
    n = len(cost)
    extra = np.ones(n, bool)
    since = np.zeros(n, np.int64)
    i, d = n - 1, int(np.argmin(cost[-1]))
    while i > 0:
        extra[i] = False
        j, c, passages = (int(v) for v in back[i, d])
        since[i] = passages
        i, d = j, c
    extra[0] = False
    return np.cumsum(since) + d, extra
