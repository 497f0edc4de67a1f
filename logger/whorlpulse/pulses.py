"""Pulse lines as columns, and pulse trains: the two shapes in which pulses travel.

`Rows` is what the board said, line by line, untouched but for being numbers. `PulseTrain` is one channel's
pulses on an unwrapped clock, with a flag for everything that was done to them. Damage is never hidden: lost
lines are gaps in `Rows`, doubtful pulses are flags in `PulseTrain`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import IntFlag
from typing import Final

import numpy as np
import numpy.typing as npt

IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]
ByteArray = npt.NDArray[np.uint8]
BoolArray = npt.NDArray[np.bool_]

#: The letters of the pulse log (format section 1): wheel, flyer, bobbin, yarn roller, keep-alive, overrun.
WHEEL: Final = ord("w")
FLYER: Final = ord("f")
BOBBIN: Final = ord("b")
ROLLER: Final = ord("y")
KEEP_ALIVE: Final = ord("k")
OVERRUN: Final = ord("x")
SHAFTS: Final = (WHEEL, FLYER, BOBBIN, ROLLER)


def _no_ints() -> IntArray:
    return np.empty(0, np.int64)


@dataclass(frozen=True)
class Rows:
    """The pulse lines of a log in the order of the file.

    tick (n,) int64: the board's raw count, still wrapping. channel (n,) uint8: ASCII code of the letter.
    Nearly every line stands for one pulse and follows its predecessor, so counts and gaps are sparse:
    count_row (m,) ascending rows whose `count` field was given and is not 1, count_value (m,) that count;
    gap_row (g,) ascending rows before which lines were lost (by the sequence numbers), gap_lines (g,) how many
    (a gap_row equal to n means lost after the last row).
    """

    tick: IntArray
    channel: ByteArray
    count_row: IntArray = field(default_factory=_no_ints)
    count_value: IntArray = field(default_factory=_no_ints)
    gap_row: IntArray = field(default_factory=_no_ints)
    gap_lines: IntArray = field(default_factory=_no_ints)

    def __len__(self) -> int:
        return len(self.tick)

    @staticmethod
    def empty() -> Rows:
        """No rows at all."""
        return Rows(np.empty(0, np.int64), np.empty(0, np.uint8))

    @staticmethod
    def joined(parts: Iterable[Rows]) -> Rows:
        """Return the parts one after another as one `Rows`; row numbers of counts and gaps move along."""
        kept = list(parts)
        if not kept:
            return Rows.empty()
        starts = np.cumsum([0] + [len(p) for p in kept])
        return Rows(
            np.concatenate([p.tick for p in kept]),
            np.concatenate([p.channel for p in kept]),
            np.concatenate([p.count_row + s for p, s in zip(kept, starts, strict=False)]),
            np.concatenate([p.count_value for p in kept]),
            np.concatenate([p.gap_row + s for p, s in zip(kept, starts, strict=False)]),
            np.concatenate([p.gap_lines for p in kept]),
        )


class Flag(IntFlag):
    """What was done to a pulse, or is doubtful about it."""

    NONE = 0
    BOUNCE = 1  # too soon after its predecessor: contact or threshold bounce; not counted
    EXTRA = 2  # does not fit the turning of the shafts; not counted
    FILLED = 4  # was not reported: put in where the shafts say that a target passed; counted
    IDLE = 8  # while the wheel stood or was rolled by hand: belongs to no run; not counted


#: A pulse with any of these does not count as a target's passage.
UNCOUNTED: Final = Flag.BOUNCE | Flag.EXTRA | Flag.IDLE


@dataclass(frozen=True)
class PulseTrain:
    """One channel's pulses in order of time.

    tick (n,) int64: unwrapped ticks since the log's first line. flag (n,) uint8: `Flag` bits.
    count (n,) int64 or None: how many targets passed since the previous pulse, up to and with this one
    (None: one each).
    """

    channel: int
    tick: IntArray
    flag: ByteArray
    count: IntArray | None = None

    def __len__(self) -> int:
        return len(self.tick)
