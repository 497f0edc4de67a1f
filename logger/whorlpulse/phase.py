"""Turns of a shaft against time, within one stretch and through a whole log.

Turns are kept as whole + fraction, so that a day of spinning loses no digit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, Stretch
from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.conditioning.targets import Angles
from whorlpulse.pulses import FLYER, FloatArray, IntArray

#: Flyer pulses at either end of a stretch between which its angle is not said.
_END_PULSES = 3


@dataclass(frozen=True)
class Turns:
    """A count of turns: whole (n,) int64 and part (n,) in turns; the value is their sum."""

    whole: IntArray
    part: FloatArray

    def since(self, first: int) -> FloatArray:
        """Turns made since entry `first`, (n,), exact to the fraction's own digits."""
        turns: FloatArray = (self.whole - self.whole[first]) + (self.part - self.part[first])
        return turns


def shaft_turns(counted: Counted, angles: Angles) -> Turns:
    """The shaft's turns at its own passages."""
    return Turns(*angles.turns(counted.passage))


def turns_at(counted: Counted, angles: Angles, t_s: FloatArray) -> FloatArray:
    """The shaft's turns at times t_s (m,), since its first passage in the stretch; NaN where it wasn't seen.

    A monotone cubic through the passages; nothing is carried beyond the first or last one.
    """
    if len(counted) < 2:
        return np.full(len(t_s), np.nan)
    if len(angles.angle) == 1 and counted.passage[0] == 0:  # conditioning has asked for the same
        return counted.passages_at(t_s)
    return monotone_cubic(counted.t_s, shaft_turns(counted, angles).since(0), t_s)


@dataclass(frozen=True)
class FlyerCount:
    """The flyer's turns through a log, over stops but not over lost lines.

    knot_s (n,): times of passages. knot_turns (n,): turns since the log's first passage. block (n,): grows by one
    wherever lines were lost between two passages; turns may be subtracted only within a block.
    target_turns: the largest gap between two targets, within which a turn's fraction is unknown at an end.
    """

    knot_s: FloatArray
    knot_turns: FloatArray
    block: IntArray
    target_turns: float

    def turns_at(self, t_s: FloatArray) -> FloatArray:
        """Turns at t_s (m,); before the first and after the last passage the likeliest is half a gap more."""
        half = 0.5 * self.target_turns
        ends = self.knot_turns[0] - half, self.knot_turns[-1] + half
        turns: FloatArray = np.interp(t_s, self.knot_s, self.knot_turns, *ends)
        return turns

    def block_at(self, t_s: FloatArray) -> IntArray:
        """The block that t_s (m,) lies in; a time between two blocks belongs to the earlier one."""
        index = np.clip(np.searchsorted(self.knot_s, t_s, side="right") - 1, 0, len(self.knot_s) - 1)
        return self.block[index]


def flyer_count(log: Conditioned) -> FlyerCount | None:
    """Join the flyer's stretches of a log into one count, or None when it never passed twice."""
    return shaft_count(log, FLYER)


def shaft_count(log: Conditioned, letter: int) -> FlyerCount | None:
    """Join the stretches of the flyer, or of the bobbin in its stead, into one count; None without two passages.

    Over a stop the shaft keeps its angle, so from the last passage before to the first one after it made one gap
    between targets (a hand that rolled the wheel meanwhile is not seen in this count).
    """
    angles = log.angles[letter]
    seen = [s.of(letter) for s in log.stretches if len(s.of(letter)) >= 1]
    if sum(len(c) for c in seen) < 2:
        return None
    gap = float(np.diff(np.append(angles.angle, 1.0)).max())
    times, turns, blocks = [], [], []
    stand, block = 0.0, 0
    for before, counted in zip([None, *seen[:-1]], seen, strict=True):
        if before is not None:
            if _lines_lost(log, before, counted):
                block += 1
            else:
                stand += 1.0 / len(angles.angle)
        made = stand + shaft_turns(counted, angles).since(0)
        times.append(counted.t_s)
        turns.append(made)
        blocks.append(np.full(len(made), block))
        stand = float(made[-1])
    return FlyerCount(np.concatenate(times), np.concatenate(turns), np.concatenate(blocks), gap)


def _lines_lost(log: Conditioned, before: Counted, after: Counted) -> bool:
    """Whether a break of the count lies between two pieces of a shaft."""
    i, j = np.searchsorted(log.break_s, [before.t_s[-1], after.t_s[0]], side="right")
    return bool(j > i)


def wheel_passages_in_flyer_turns(
    log: Conditioned, stretches: Sequence[Stretch]
) -> list[tuple[FloatArray, FloatArray, IntArray]]:
    """For each stretch the wheel passages that the flyer covers well: t_s (n,), flyer turns y (n,), passage (n,).

    Within a few flyer pulses of either end the curve has neighbours on one side only; passages there are left out.
    """
    found = []
    for s in stretches:
        y = turns_at(s.flyer, log.angles[FLYER], s.wheel.t_s)
        seen = np.isfinite(y) & ~s.wheel.filled
        if len(s.flyer) > 4 * _END_PULSES:
            seen &= (s.wheel.t_s >= s.flyer.t_s[_END_PULSES]) & (s.wheel.t_s <= s.flyer.t_s[-1 - _END_PULSES])
        found.append((s.wheel.t_s[seen], y[seen], s.wheel.passage[seen]))
    return found
