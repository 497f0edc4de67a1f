"""One shaft within one stretch: which pulses are passages of a target, and how many have passed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.conditioning.repair import Repair
from whorlpulse.pulses import ByteArray, Flag, FloatArray, IntArray


@dataclass(frozen=True)
class Counted:
    """Passages of one shaft's targets at t_s (n,), seconds, rising.

    passage (n,) int64 numbers them; by the number of targets its remainder names the target.

    filled (n,) bool where nothing was reported. passage rises by one except where a line stands for several.
    """

    t_s: FloatArray
    passage: IntArray
    filled: np.ndarray
    _asked: list[tuple[FloatArray, FloatArray]] = field(default_factory=list, init=False, repr=False, compare=False)

    def passages_at(self, t_s: FloatArray) -> FloatArray:
        """Passages made at times t_s (m,), by monotone cubic: (m,), NaN outside the shaft's own.

        What was asked last is remembered: one stage after the other asks for the same wheel passages.
        """
        if self._asked and self._asked[0][0] is t_s:
            return self._asked[0][1]
        found = monotone_cubic(self.t_s, self.passage, t_s)
        self._asked[:] = [(t_s, found)]
        return found

    def __len__(self) -> int:
        return len(self.t_s)

    @staticmethod
    def one_each(t_s: FloatArray) -> Counted:
        """Every pulse is one passage."""
        return Counted(t_s, np.arange(len(t_s), dtype=np.int64), np.zeros(len(t_s), bool))

    @staticmethod
    def repaired(t_s: FloatArray, repairs: Sequence[Repair], filled_t_s: FloatArray) -> tuple[Counted, ByteArray]:
        """Apply repairs to pulses at t_s (n,); filled_t_s: the times of all filled passages, in order.

        Returns the passages and the pulses' flags (n,) (`Flag.EXTRA` where dropped).
        """
        flag = np.zeros(len(t_s), np.uint8)
        for r in repairs:
            flag[list(r.extra)] = Flag.EXTRA
        if not repairs:
            return Counted.one_each(t_s), flag
        kept = t_s[flag == 0]
        times = np.concatenate([kept, filled_t_s])
        filled = np.concatenate([np.zeros(len(kept), bool), np.ones(len(filled_t_s), bool)])
        order = np.argsort(times, kind="stable")
        times, filled = times[order], filled[order]
        return Counted(times, np.arange(len(times), dtype=np.int64), filled), flag
