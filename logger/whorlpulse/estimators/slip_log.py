"""A log as the parts of slip look at it: stretches with their wheel turns, loss series, mended pulses, take-up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, Stretch
from whorlpulse.estimators.slip_series import LossSeries, loss_series
from whorlpulse.estimators.wheel_steps import Piece, pieces_at_speed
from whorlpulse.phase import wheel_passages_in_flyer_turns
from whorlpulse.pulses import FLYER, ROLLER, WHEEL, BoolArray, Flag, FloatArray, IntArray

#: Above this share of missed and extra pulses of wheel and flyer, starts and stops are left out (see `slip_bursts`).
_CLEAN = 0.001


@dataclass(frozen=True)
class SlipLog:
    """What every whorl's part needs of a log.

    pieces: passages at speed; covered: all that the flyer covers, one a stretch; before[i]: wheel turns before stretch
    i; mended_s: by shaft, times (n,) at which a pulse was put in or left out; wound_s: take-up passages, None without.
    """

    log: Conditioned
    targets: int
    pieces: tuple[Piece, ...]
    covered: tuple[Piece, ...]
    before: tuple[float, ...]
    mended_s: Mapping[int, FloatArray]
    wound_s: FloatArray | None

    @property
    def trust_ramps(self) -> bool:
        """Whether so few pulses were mended that starts and stops can be looked at too."""
        mended = sum(len(t) for t in self.mended_s.values())
        return mended < _CLEAN * sum(len(self.log.trains[c]) for c in self.mended_s)

    def mended(self, shaft: int, from_s: float, to_s: float) -> int:
        """How many pulses of a shaft were mended between two times."""
        i, j = np.searchsorted(self.mended_s[shaft], (from_s, to_s))
        return int(j - i)

    def mended_steps(self, one: LossSeries) -> BoolArray:
        """Which steps (n,) of a series had a pulse of either shaft mended."""
        counts = [np.diff(np.searchsorted(t, one.piece.t_s)) for t in self.mended_s.values()]
        mended: BoolArray = np.sum(counts, axis=0) > 0
        return mended

    def series(self, pieces: Sequence[Piece], usual: FloatArray) -> tuple[list[LossSeries], list[Stretch]]:
        """The loss series of the stretches that these pieces at speed are parts of, and the stretches.

        usual (targets,): flyer turns that are usual from each wheel target to the next.
        """
        series, stretches = [], []
        for i, (whole, stretch) in enumerate(zip(self.covered, self.log.stretches, strict=True)):
            mine = [p for p in pieces if p.run == whole.run and _within(p, whole)]
            if not mine:
                continue
            series.append(loss_series(whole, mine[0], self.wheel_turns(i, whole.passage), usual))
            stretches.append(stretch)
        return series, stretches

    def stretch_of(self, piece: Piece) -> int:
        """The number of the stretch that a piece at speed is a part of."""
        return next(i for i, whole in enumerate(self.covered) if whole.run == piece.run and _within(piece, whole))

    def wheel_turns(self, stretch: int, passage: IntArray) -> FloatArray:
        """Turns (n,) of all runs up to the passages `passage` (n,) of a stretch's wheel."""
        first = self.log.stretches[stretch].wheel.passage[:1]
        whole, part = self.log.angles[WHEEL].turns(np.concatenate((first, passage)))
        made: FloatArray = self.before[stretch] + ((whole - whole[0]) + (part - part[0]))[1:]
        return made


def slip_log(log: Conditioned) -> SlipLog:
    """Put together what slip needs of a conditioned log."""
    angles = log.angles[WHEEL]
    targets = len(angles.angle)
    seen = wheel_passages_in_flyer_turns(log, log.stretches)
    covered = tuple(Piece(s.run, *passages) for s, passages in zip(log.stretches, seen, strict=True))
    before, total, run = [], 0.0, -1
    for s in log.stretches:
        # A run begins somewhere between two targets: half a gap before the first passage is the likeliest.
        total += 0.5 / targets if s.run != run else 0.0
        run = s.run
        before.append(total)
        if len(s.wheel) > 1:
            whole, part = angles.turns(s.wheel.passage[[0, -1]])
            total += float(whole[1] - whole[0] + part[1] - part[0])
    mended_s = {}
    for shaft in (WHEEL, FLYER):
        train = log.trains[shaft]
        mended_s[shaft] = train.tick[train.flag & (Flag.FILLED | Flag.EXTRA) != 0] / log.tick_hz
    wound = [p.counted.t_s for p in log.rolls]
    wound_s = np.concatenate(wound) if len(log.trains[ROLLER]) else None
    return SlipLog(log, targets, tuple(pieces_at_speed(log, targets)), covered, tuple(before), mended_s, wound_s)


def _within(piece: Piece, whole: Piece) -> bool:
    return bool(len(whole.t_s) and whole.t_s[0] <= piece.t_s[0] and piece.t_s[-1] <= whole.t_s[-1])
