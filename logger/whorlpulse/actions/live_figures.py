"""What is known of a recording while it runs: simple counts, the board's clock, and the rows of late.

Fed with the same bytes that went into the log. The counts are exact for the whole recording; the rows, for the
ratio so far, reach back only so far that the work on them stays bounded.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections import Counter, deque
from contextlib import suppress
from typing import TYPE_CHECKING, Final, NamedTuple

from whorlpulse.logfile.header import Entry, Header, LogError
from whorlpulse.wire import Decoder, Gap, Message, Meta, Pulse

if TYPE_CHECKING:
    from whorlpulse.pulses import Rows

#: The ratio so far is that of at most so many seconds and rows.
RECENT_S: Final = 600.0
RECENT_ROWS: Final = 20_000
#: Cadence is that of the wheel pulses of so many seconds; a wheel without one for so long is still.
_CADENCE_S: Final = 10.0
_STILL_S: Final = 3.0
#: The keys of a board's greeting that the figures need.
_NEEDED: Final = ("format", "tick_hz", "tick_bits", "seq_bits", "targets", "roller", "board")


class LastLine(NamedTuple):
    """The last complete pulse line: its raw tick, and when the bytes that ended it had been read."""

    tick: int
    at_s: float
    unix_s: float


class LiveFigures:
    """Counts what a stream of bytes says."""

    def __init__(self, speed: float = 1.0) -> None:
        """speed: how many seconds of the board pass in one of the host's; 1 unless it is simulated."""
        self._speed = speed
        self.pulses: Counter[str] = Counter()
        self.header = Header()
        self.greeted = False
        self.brings_sync = False
        self.last: LastLine | None = None
        self._decoder = Decoder()
        self._entries: dict[str, Entry] = {}
        self._rows = RecentRows()
        self._wheel: deque[tuple[int, int]] = deque()  # ticks since the first line, how many pulses
        self._ticks = 0
        self._mask = _mask_of(self.header)

    @property
    def lines(self) -> int:
        """How many lines were complete."""
        return self._decoder.tally.total

    @property
    def damaged(self) -> int:
        """How many of them said nothing usable."""
        return self._decoder.tally.malformed_lines + self._decoder.tally.bad_checksum

    @property
    def lost(self) -> int:
        """How many lines are missing by their numbers."""
        return self._decoder.tally.lost

    def take(self, data: bytes, at_s: float, unix_s: float) -> None:
        """Count the lines that these bytes complete. at_s, unix_s: when they had been read."""
        for message in self._decoder.feed(data):
            self._message(message, at_s, unix_s)

    def _message(self, message: Message, at_s: float, unix_s: float) -> None:
        if isinstance(message, Pulse):
            self._pulse(message, at_s, unix_s)
        elif isinstance(message, Gap):
            self._lines_lost(message.lines)
        elif isinstance(message, Meta) and message.key == "sync":
            self.brings_sync = True
        elif isinstance(message, Meta) and message.key in _NEEDED:
            self.greeted = self.greeted or message.key in ("format", "targets")
            entries = {**self._entries, message.key: Entry(0, message.line, message.key, message.value)}
            with suppress(LogError):  # a format of the future is recorded all the same
                header = Header.of(entries.values())
                if not header.problems:  # the last good value of a key holds
                    self.header, self._entries, self._mask = header, entries, _mask_of(header)

    def _pulse(self, pulse: Pulse, at_s: float, unix_s: float) -> None:
        last, mask = self.last, self._mask
        if last is not None:
            step = (pulse.tick - last.tick) & mask
            if step > mask >> 1:  # backwards: the board began anew
                self._wheel.clear()
            else:
                self._ticks += step
        self.last = LastLine(pulse.tick, at_s, unix_s)
        if pulse.channel not in "kx":
            self.pulses[pulse.channel] += pulse.count
        self._keep(pulse, at_s)

    def _keep(self, pulse: Pulse, at_s: float) -> None:
        if pulse.channel == "w":
            self._wheel.append((self._ticks, pulse.count))
        self._rows.add(pulse, at_s)

    def _lines_lost(self, lines: int) -> None:
        self._rows.gap(lines)

    def tick_at(self, at_s: float) -> int | None:
        """Return the board's raw tick at a moment near the last line's; None before the first line."""
        if self.last is None:
            return None
        tick = self.last.tick + round((at_s - self.last.at_s) * self._speed * self.header.tick_hz)
        return max(tick, 0) & self._mask

    def cadence_per_min(self) -> float | None:
        """Return wheel turns a minute over the last ten seconds, 0 if the wheel stands, None if it was not seen.

        The time runs by the board's own clock, which every line tells, keep-alives too.
        """
        hz = self.header.tick_hz
        while self._wheel and self._ticks - self._wheel[0][0] > _CADENCE_S * hz:
            self._wheel.popleft()
        if not self.pulses["w"]:
            return None
        if not self._wheel or self._ticks - self._wheel[-1][0] > _STILL_S * hz:
            return 0.0
        span_s = (self._wheel[-1][0] - self._wheel[0][0]) / hz
        passages = sum(count for _, count in self._wheel) - self._wheel[0][1]
        return 60.0 * passages / self.header.targets["w"] / span_s if span_s > 0 else None

    def recent(self) -> tuple[Rows, bool]:
        """Return the rows of late, and whether older ones are left out."""
        return self._rows.rows()


def _mask_of(header: Header) -> int:
    return (1 << (header.tick_bits or 62)) - 1


class RecentRows:
    """The last rows of a stream, in columns that are cut at their start when they have grown."""

    def __init__(self, recent_s: float = RECENT_S, most: int = RECENT_ROWS) -> None:
        self._recent_s, self._most = recent_s, most
        self._tick, self._count, self._gap = array("q"), array("q"), array("q")  # gap: -1 where there is none
        self._channel, self._at_s = bytearray(), array("d")
        self._next_gap = -1
        self._cut = False

    def gap(self, lines: int) -> None:
        """Note that so many lines are missing before the next row."""
        self._next_gap = max(self._next_gap, 0) + lines

    def add(self, pulse: Pulse, at_s: float) -> None:
        """Add the row of a pulse line."""
        self._tick.append(pulse.tick)
        self._count.append(pulse.count)
        self._gap.append(self._next_gap)
        self._channel.append(ord(pulse.channel))
        self._at_s.append(at_s)
        self._next_gap = -1
        if len(self._tick) >= 2 * self._most:
            self._drop(self._most)

    def rows(self) -> tuple[Rows, bool]:
        """Return them, and whether older ones are left out."""
        import numpy as np

        from whorlpulse.pulses import Rows

        if self._at_s:
            too_old = bisect_left(self._at_s, self._at_s[-1] - self._recent_s)
            self._drop(max(too_old, len(self._tick) - self._most))
        count, gap = np.array(self._count, np.int64), np.array(self._gap, np.int64)
        count_row, gap_row = np.flatnonzero(count != 1), np.flatnonzero(gap >= 0)
        rows = Rows(
            np.array(self._tick, np.int64),
            np.frombuffer(bytes(self._channel), np.uint8),
            count_row,
            count[count_row],
            gap_row,
            gap[gap_row],
        )
        return rows, self._cut

    def _drop(self, n: int) -> None:
        if n > 0:
            self._cut = True
            for column in (self._tick, self._count, self._gap, self._channel, self._at_s):
                del column[:n]
