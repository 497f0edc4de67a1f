"""Sequence numbers: which lines are missing, which came twice, when the board began anew.

`seq` counts every line that the board sends, modulo 2^seq_bits. A line's number less one less the number
before is how many are missing. Backwards and far ahead look the same in modular arithmetic; more than half
the range is taken for a restart, because nobody can say how much is missing then.

A board that begins anew does so at number 0. From the upper half of the range that is a step ahead, too, as if lines
were lost. Two signs tell it from that: a clock that has gone back together with a number near 0, or the number 0
itself a thousand lines away. Lines that are lost end there by chance only: 1 in 65,536 at 0, and where both the clock
and the numbers wrap around in one gap.

Lines that arrived but were damaged explain part of a jump: they are not lost a second time. A log without
sequence numbers has only its checksums to tell that a line went wrong; there each wrong one is a gap.

A line whose own number was damaged (a garbled byte may take the checksum's `*` away) jumps out of line alone: the
next one goes on from where the numbers stood before. What was counted for such a stray number is taken back.
"""

from __future__ import annotations

from typing import Final

from whorlpulse.wire.tally import Tally

#: What `follow` says of a line that is the same as the numbered line before it.
REPEAT: Final = -1
#: The numbers go on within so many lines of where they stood before a stray one.
_STRAY_REACH: Final = 16
#: A board that began anew is heard again within this part of the range, by a power of 2: 1023 lines of 65,536.
_NEAR_ZERO: Final = 6
#: Farther ahead than this, number 0 is a beginning.
_FAR: Final = 1023


class SequenceWatch:
    """Follows the numbers line by line and writes what is lost or restarted into a tally.

    bits: width of the sequence number; 0 means that it never wraps. bits_at_start: the width that the first
    numbered line was read with, None before it. bits_changed: whether the width changed after that line.
    """

    __slots__ = (
        "_bad",
        "_channel",
        "_damaged",
        "_seq",
        "_stray",
        "_tally",
        "_tick",
        "bits",
        "bits_at_start",
        "bits_changed",
        "mask",
    )

    def __init__(self, bits: int, tally: Tally) -> None:
        """Start with no line seen; tally takes what is found."""
        self._tally = tally
        self._seq: int | None = None
        self._channel = ""
        self._tick = 0
        self._damaged = 0  # damaged lines since the last numbered line
        self._bad = 0  # of these, wrong checksums since the last usable pulse line
        self._stray: tuple[int, int, int] | None = None  # number before a jump; lost and restarts counted for it
        self.bits_at_start: int | None = None
        self.bits_changed = False
        self.set_bits(bits)

    def set_bits(self, bits: int) -> None:
        """Use this width from here on, 0 to 62; 0 is as good as 62 for a number that never wraps."""
        if not 0 <= bits <= 62:
            raise ValueError(f"seq_bits must be 0 to 62, not {bits}")
        if self.bits_at_start is not None and bits != self.bits_at_start:
            self.bits_changed = True
        self.bits = bits
        self.mask = (1 << (bits or 62)) - 1

    def damage(self, *, bad_checksum: bool) -> None:
        """Note a line that arrived but could not be used."""
        self._damaged += 1
        self._bad += bad_checksum

    def follow(self, channel: str, tick: int, seq: int | None) -> int | None:
        """Return what lies before a usable pulse line.

        None: it follows the line before; REPEAT: it is that line again; otherwise a gap of so many lines,
        0 where the board began anew.
        """
        if seq is None:
            bad, self._bad = self._bad, 0
            return bad or None
        last, damaged = self._seq, self._damaged
        same = last is not None and (seq - last) & self.mask == 0
        if same and channel == self._channel and tick == self._tick:
            return REPEAT
        stray, went_back = self._stray, tick < self._tick
        self.pass_over(channel, tick, seq)
        if last is None:
            return None
        missing = (seq - last - 1) & self.mask
        if missing == 0:
            return None
        onward = (seq - stray[0] - 1) & self.mask if stray is not None else 0
        if stray is not None and missing > _STRAY_REACH and 0 < onward <= _STRAY_REACH:
            missing = onward
            self._tally.lost += max(0, missing - 1 - damaged) - stray[1]
            self._tally.restarted -= stray[2]
            return missing
        begun = seq & self.mask
        near_zero = begun <= self.mask >> _NEAR_ZERO and seq < last
        restarted = missing > self.mask // 2 or (near_zero and went_back) or (begun == 0 and missing > _FAR)
        lost = 0 if restarted else max(0, missing - damaged)
        self._stray = (last, lost, int(restarted))
        self._tally.restarted += restarted
        self._tally.lost += lost
        return 0 if restarted else missing

    @property
    def last(self) -> int | None:
        """The number of the last numbered line, None before it."""
        return self._seq

    def plainly_follows(self, seq: int | None) -> bool:
        """Say whether a usable pulse line with this number would have nothing to be told about before it."""
        if seq is None:
            return self._bad == 0
        return self._seq is not None and (seq - self._seq - 1) & self.mask == 0

    def pass_over(self, channel: str, tick: int, seq: int | None) -> None:
        """Take a usable pulse line that is known to follow the one before."""
        self._bad = 0
        if seq is None:
            return
        self._stray = None
        if self.bits_at_start is None:
            self.bits_at_start = self.bits
        self._seq, self._channel, self._tick, self._damaged = seq, channel, tick, 0
