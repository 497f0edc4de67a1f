"""Laps: the wheel's whole turns within treadled runs, and the turns that take far longer than their neighbours.

A run's start and end, where the wheel is being brought up to speed or runs down, are no treadling to be judged: from
either end laps are left out while they are slower than those that follow, and one more where there are enough.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, Stretch
from whorlpulse.phase import turns_at
from whorlpulse.pulses import FLYER, WHEEL, BoolArray, FloatArray, IntArray

#: At a run's ends a lap this much longer than the median of the next ones belongs to starting up or running down.
_RAMP = 1.15
_NEXT_LAPS = 10
_SPARES_ONE = 12
#: A lap stalls when it takes this much longer than its neighbours, and by so many of their robust deviations.
_STALL, _STALL_DEVIATIONS = 1.4, 6.0
_NEIGHBOURS = 5
#: More flyer turns than this beyond the usual: the band can lose turns, never win them.
_BACK_TURNS = 0.5


@dataclass(frozen=True)
class Treadled:
    """The part of a stretch in which the wheel is treadled: passages t_s (n,), passage (n,), filled (n,) bool."""

    run: int
    stretch: Stretch
    targets: int
    coarse: bool
    t_s: FloatArray
    passage: IntArray
    filled: BoolArray

    def periods(self) -> tuple[FloatArray, FloatArray]:
        """Turn periods (m,) from each passage to the next one of its target, and when they began (m,)."""
        n = self.targets
        seen = ~self.filled[:-n] & ~self.filled[n:]
        return (self.t_s[n:] - self.t_s[:-n])[seen], self.t_s[:-n][seen]

    def period_steps(self) -> tuple[FloatArray, FloatArray]:
        """From each turn period to the next one of the same target (m,), and when the first of the two began (m,)."""
        n = self.targets
        filled, t = self.filled, self.t_s
        seen = ~filled[: -2 * n] & ~filled[n:-n] & ~filled[2 * n :]
        return (t[2 * n :] - 2 * t[n:-n] + t[: -2 * n])[seen], t[: -2 * n][seen]


@dataclass(frozen=True)
class Laps:
    """Laps in order: run (n,), start_s (n,), period_s (n,) and turns (n,): 1 each, or as many as a line stands for."""

    run: IntArray
    start_s: FloatArray
    period_s: FloatArray
    turns: FloatArray


@dataclass(frozen=True)
class Stall:
    """A wheel turn from start_s to end_s that took far longer than usual_s.

    ran_back: more flyer turns than usual passed in it, as when the wheel ran back and on again; None without flyer.
    """

    start_s: float
    end_s: float
    usual_s: float
    ran_back: bool | None


def treadled_parts(log: Conditioned) -> list[Treadled]:
    """The stretches' wheel passages in whole turns, without starting up and running down."""
    targets = len(log.angles[WHEEL].angle)
    coarse = WHEEL in log.coarse
    stretches = [s for s in log.stretches if len(s.wheel) > 1]
    found = []
    for i, s in enumerate(stretches):
        starts = i == 0 or stretches[i - 1].run != s.run
        ends = i == len(stretches) - 1 or stretches[i + 1].run != s.run
        step = 1 if coarse else targets
        lap = np.arange(0, len(s.wheel), step)
        period = np.diff(s.wheel.t_s[lap]) / np.diff(s.wheel.passage[lap])
        first = _ramp(period) if starts else 0
        last = len(period) - (_ramp(period[::-1]) if ends else 0)
        if last <= first:
            continue
        kept = slice(first * step, last * step + 1)
        found.append(
            Treadled(
                s.run, s, targets, coarse, s.wheel.t_s[kept], s.wheel.passage[kept], s.wheel.filled[kept].astype(bool)
            )
        )
    return found


def _ramp(period: FloatArray) -> int:
    """How many laps from the start on belong to the ramp."""
    slow = 0
    while slow < len(period) and period[slow] > _RAMP * np.median(period[slow : slow + _NEXT_LAPS]):
        slow += 1
    return slow + (len(period) - slow > _SPARES_ONE)


def laps_of(parts: Sequence[Treadled]) -> Laps:
    """Whole turns of the first target in each part; where lines stand for several turns, from line to line."""
    run = [np.empty(0, np.int64)]
    start, period, turns = [np.empty(0)], [np.empty(0)], [np.empty(0)]
    for p in parts:
        step = 1 if p.coarse else p.targets
        t, passage = p.t_s[::step], p.passage[::step]
        run.append(np.full(len(t) - 1, p.run, np.int64))
        start.append(t[:-1])
        period.append(np.diff(t))
        turns.append(np.diff(passage) / p.targets)
    return Laps(np.concatenate(run), np.concatenate(start), np.concatenate(period), np.concatenate(turns))


def stalls(log: Conditioned, parts: Sequence[Treadled]) -> list[Stall]:
    """Turns that took far longer than their neighbours; none are told where lines stand for several turns."""
    found: list[Stall] = []
    for p in parts:
        if p.coarse or len(p.t_s) <= (2 * _NEIGHBOURS + 1) * p.targets:
            continue
        n = p.targets
        period = p.t_s[n:] - p.t_s[:-n]
        usual = _usual(period, n)
        deviation = 1.4826 * float(np.median(np.abs(np.log(period / usual))))
        far = (period > _STALL * usual) & (np.log(period / usual) > _STALL_DEVIATIONS * deviation)
        for i in _one_of_each(far, period / usual, n):
            back = _ran_back(log, p, i)
            found.append(Stall(float(p.t_s[i]), float(p.t_s[i + n]), float(usual[i]), back))
    return found


def _usual(period: FloatArray, targets: int) -> FloatArray:
    """For each period (m,) the median of those of its target before and after, without itself (m,)."""
    offsets = [k * targets for k in range(-_NEIGHBOURS, _NEIGHBOURS + 1) if k]
    index = np.arange(len(period))[:, None] + np.array(offsets)
    outside = (index < 0) | (index >= len(period))
    around = np.where(outside, np.nan, period[np.clip(index, 0, len(period) - 1)])
    usual: FloatArray = np.nanmedian(around, axis=1)
    return usual


def _one_of_each(far: BoolArray, excess: FloatArray, targets: int) -> list[int]:
    """Of overlapping turns that stall the longest one."""
    kept: list[int] = []
    for i in np.flatnonzero(far).tolist():
        if kept and i - kept[-1] < targets:
            if excess[i] > excess[kept[-1]]:
                kept[-1] = i
        else:
            kept.append(i)
    return kept


def _ran_back(log: Conditioned, part: Treadled, i: int) -> bool | None:
    """Whether the flyer made more turns in the turn that begins at passage i than in those around it."""
    n = part.targets
    first, last = max(i - _NEIGHBOURS * n, 0), min(i + _NEIGHBOURS * n, len(part.t_s) - n - 1)
    y = turns_at(part.stretch.flyer, log.angles[FLYER], part.t_s)
    made = (y[n:] - y[:-n])[first : last + 1]
    usual = np.delete(made, i - first)
    usual = usual[np.isfinite(usual)]
    if len(usual) < _NEIGHBOURS or not np.isfinite(made[i - first]):
        return None
    return bool(made[i - first] > np.median(usual) + _BACK_TURNS)
