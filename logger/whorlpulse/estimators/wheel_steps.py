"""A run's steps: the flyer's turns from each passage of a wheel target to the next, where the wheel runs at speed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, Stretch
from whorlpulse.conditioning.targets import Angles
from whorlpulse.estimators.sharper_curve import sharpened
from whorlpulse.estimators.step_spectrum import Steps
from whorlpulse.phase import wheel_passages_in_flyer_turns
from whorlpulse.pulses import FLYER, BoolArray, FloatArray, IntArray

#: A step this many robust deviations off is no noise. The deviation of a few dozen steps is itself unsure by a fifth
#: and more, and a step that is cut out costs most of what the others say: so it takes more than chance ever brings.
_OUTLIER = 6.0
_FEWEST_FOR_OUTLIERS = 8
#: Over so many steps a gap is short: of two passages put in among dozens the noise hardly differs.
_SHORT_GAP = 3
#: A wheel runs at speed while it makes this part of its usual one, and changes it by less than this (in ln) a step.
_AT_SPEED, _STEADY = 0.6, 0.2
#: So many turns from either end a step that stands out is a guess at the ramp rather than slip.
_END_TURNS = 3
#: A piece of so many turns can spare one at either end.
_ENOUGH_TURNS = 12


@dataclass(frozen=True)
class Piece:
    """One stretch's wheel passages that the flyer covers."""

    run: int
    t_s: FloatArray
    y: FloatArray
    passage: IntArray

    def at_speed(self, targets: int, *, starts: bool, ends: bool) -> Piece:
        """The same without both ends, where the wheel starts up or runs down (starts, ends: whether the run does here).

        There the flyer makes few pulses in much change of speed: its angle between them is a guess, and so is a missed
        one. So ends whose steps stand out go too: whether it was the band or the guess can't be told.
        """
        if len(self.t_s) < 4:
            return self
        step = np.diff(self.y)
        speed = step / np.diff(self.t_s)
        fast = speed >= _AT_SPEED * np.median(speed)
        steady = np.abs(np.diff(np.log(np.maximum(speed, 1e-9)))) < _STEADY
        good = np.flatnonzero(fast[:-1] & fast[1:] & steady)
        if len(good) == 0:
            return self
        first, last = int(good[0]), int(good[-1]) + 2
        if last - first > _ENOUGH_TURNS * targets:
            # Feet that set in or a brake that bites bend the curve of the turn next to them, and the band, which has
            # just pulled the flyer up to speed, still slips more than it will: left in, that turn alone was a bias of
            # a third of u. With several targets the wheel counts as steady a turn earlier than with one.
            first += 3 * targets - 1 if starts else 0
            last -= targets if ends else 0
        off = np.flatnonzero(_outstanding(step, self.passage[:-1] % targets, targets))
        near = _END_TURNS * targets
        for i in off:
            if i < first + near:
                first = max(first, int(i) + 1)
            elif i >= last - near:
                last = min(last, int(i))
        return self._cut(first, max(last, first))

    def whole_turns(self, targets: int) -> Piece | None:
        """The same from the first passage to the last one of the same target; None for less than a turn.

        Within a turn the loss is uneven, so that parts of a turn would blur what "the ratio" is.
        """
        same = np.flatnonzero((self.passage - self.passage[:1]) % targets == 0)
        return self._cut(0, int(same[-1])) if len(same) > 1 else None

    def _cut(self, first: int, last: int) -> Piece:
        kept = slice(first, last + 1)
        return Piece(self.run, self.t_s[kept], self.y[kept], self.passage[kept])

    def wheel_turns(self, angles: Angles) -> float:
        """Wheel turns from the first to the last passage."""
        whole, part = angles.turns(self.passage[[0, -1]])
        return float(whole[1] - whole[0] + part[1] - part[0])


@dataclass(frozen=True)
class Series:
    """A run's steps, parted into those that share one noise and the few that stand out of it.

    common: pieces of ordinary steps. outliers (m,): how far each outstanding step lies from the ordinary one: bursts of
    slip and the loss of a hard start, and what was made where the wheel wasn't seen for long. They are no noise; they
    are counted as they were. left_out: how many ordinary steps they take the place of.
    """

    common: tuple[Steps, ...]
    outliers: FloatArray
    left_out: int


def pieces_at_speed(log: Conditioned, targets: int) -> list[Piece]:
    """The stretches' wheel passages at speed, in whole turns."""
    seen = wheel_passages_in_flyer_turns(log, log.stretches)
    one_a_turn = len(log.angles[FLYER].angle) == 1 and FLYER not in log.coarse
    covered = []
    for s, (t_s, y, passage) in zip(log.stretches, seen, strict=True):
        if one_a_turn:
            y = sharpened(s.flyer, t_s, y, targets)
        covered.append(Piece(s.run, *_between_reported(s, t_s, y, passage)))
    covered = [p for p in covered if len(p.t_s)]
    found = []
    for i, p in enumerate(covered):
        starts = i == 0 or covered[i - 1].run != p.run
        ends = i == len(covered) - 1 or covered[i + 1].run != p.run
        found.append(p.at_speed(targets, starts=starts, ends=ends).whole_turns(targets))
    return [p for p in found if p is not None]


def _between_reported(
    stretch: Stretch, t_s: FloatArray, y: FloatArray, passage: IntArray
) -> tuple[FloatArray, FloatArray, IntArray]:
    """The passages (n,) but those next to a flyer pulse that was put in: there y is a guess.

    Where the flyer misses one at most passages (the sensors disturb each other, say), guesses are all there is.
    """
    flyer = stretch.flyer
    if not flyer.filled.any():
        return t_s, y, passage
    after = np.clip(np.searchsorted(flyer.t_s, t_s, side="right"), 1, len(flyer) - 1)
    kept = ~(flyer.filled[after - 1] | flyer.filled[after])
    if 2 * np.count_nonzero(kept) < len(kept):
        return t_s, y, passage
    return t_s[kept], y[kept], passage[kept]


def series_of(pieces: Sequence[Piece], targets: int) -> Series:
    """Cut the pieces into unbroken steps, and cut out the steps that stand out.

    A step stands out by more than `_OUTLIER` robust deviations from the median of its like (the same wheel target). A
    passage or two that weren't seen are put in where the steps around them say; over more, the count goes on alone.
    """
    whole = [_bridged(p.y, p.passage, targets) for p in pieces]
    steps, d, target, out = _judged(whole, targets)
    if out.any():
        whole = [_unswung(y, passage, targets) for y, passage in whole]
        steps, d, target, out = _judged(whole, targets)
    if not steps:
        return Series((), np.empty(0), 0)
    usual = np.array([d[~out & (target == j)].mean() if (~out & (target == j)).any() else 0.0 for j in range(targets)])
    off = [d[out] - usual[target[out]]]
    left_out = int(out.sum())
    for y, passage in whole:
        for i in np.flatnonzero(np.diff(passage) != 1):
            passed = np.arange(passage[i], passage[i + 1]) % targets
            off.append(np.array([y[i + 1] - y[i] - usual[passed].sum()]))
            left_out += len(passed)
    return Series(tuple(_ordinary(steps, out)), np.concatenate(off), left_out)


def _judged(
    whole: Sequence[tuple[FloatArray, IntArray]], targets: int
) -> tuple[list[Steps], FloatArray, IntArray, BoolArray]:
    """The unbroken steps between passages; d (n,) and targets (n,) of all of them, and which (n,) stand out."""
    steps = [
        Steps(np.diff(y[part]), passage[part[:-1]] % targets)
        for y, passage in whole
        for part in np.split(np.arange(len(y)), np.flatnonzero(np.diff(passage) != 1) + 1)
        if len(part) > 1
    ]
    d = np.concatenate([s.d for s in steps] or [np.empty(0)])
    target = np.concatenate([s.target for s in steps] or [np.empty(0, np.int64)])
    return steps, d, target, _outstanding(d, target, targets)


def _ordinary(steps: Sequence[Steps], out: BoolArray) -> list[Steps]:
    """The steps without those that are out (n,), cut where these were."""
    bounds = np.cumsum([len(s.d) for s in steps])[:-1]
    common = []
    for own, out_here in zip(steps, np.split(out, bounds), strict=True):
        for part in np.split(np.arange(len(own.d)), np.flatnonzero(out_here)):
            kept = part[~out_here[part]]
            if len(kept):
                common.append(Steps(own.d[kept], own.target[kept]))
    return common


def _bridged(y: FloatArray, passage: IntArray, targets: int) -> tuple[FloatArray, IntArray]:
    """Flyer turns y (n,) and passages (n,) with short gaps filled in: what was made over one, shared as usual."""
    jump = np.diff(passage)
    gaps = np.flatnonzero((jump > 1) & (jump <= _SHORT_GAP))
    single = jump == 1
    if len(gaps) == 0 or not all((single & (passage[:-1] % targets == j)).any() for j in range(targets)):
        return y, passage
    step, after = np.diff(y)[single], passage[:-1][single] % targets
    usual = np.array([np.median(step[after == j]) for j in range(targets)])
    for i in gaps[::-1]:
        path = np.cumsum(usual[np.arange(passage[i], passage[i + 1]) % targets])
        y = np.insert(y, i + 1, y[i] + (y[i + 1] - y[i]) * path[:-1] / path[-1])
        passage = np.insert(passage, i + 1, np.arange(passage[i] + 1, passage[i + 1]))
    return y, passage


def _unswung(y: FloatArray, passage: IntArray, targets: int) -> tuple[FloatArray, IntArray]:
    """Flyer turns y (n,) and passages (n,) without those before which a step stands out, and as far back after them.

    A band can lose turns, but not win them back: such a passage was stamped wrongly, or the flyer's pulse beside it.
    """
    d, after = np.diff(y), passage[:-1] % targets
    out = _outstanding(d, after, targets)
    if not out.any():
        return y, passage
    off = _deviation(d, after, targets)
    before, behind = off[:-1], off[1:]
    back = np.abs(before + behind) < 0.5 * np.maximum(np.abs(before), np.abs(behind))
    unbroken = np.diff(passage) == 1
    good = np.ones(len(y), bool)
    good[1:-1] = ~((out[:-1] | out[1:]) & back & unbroken[:-1] & unbroken[1:])
    return _bridged(y[good], passage[good], targets)


def _deviation(d: FloatArray, target: IntArray, targets: int) -> FloatArray:
    """How far each step d (n,) lies from the median of those after the same wheel target."""
    medians = [np.median(d[target == j]) if (target == j).any() else 0.0 for j in range(targets)]
    deviation: FloatArray = d - np.array(medians)[target]
    return deviation


def _outstanding(d: FloatArray, target: IntArray, targets: int) -> BoolArray:
    """Which steps d (n,) stand out from those of the same wheel target."""
    none = np.zeros(len(d), bool)
    if len(d) < _FEWEST_FOR_OUTLIERS * targets:
        return none
    off = np.abs(_deviation(d, target, targets))
    # By the larger of two robust deviations, so that tails that are merely long stay part of the noise.
    ordered = np.sort(off)
    scale = max(1.4826 * float(ordered[len(off) // 2]), float(ordered[int(0.9 * len(off))]) / 1.645)
    out = off > _OUTLIER * scale
    enough = all((~out & (target == j)).any() for j in range(targets))
    return out if enough else none
