"""The fast reader: a log of millions of lines into columns, every checksum and sequence number verified.

Lines of a common shape are read in columns (`stretch`, `columns`). Every line that is not clean goes one by
one through the wire's own grammar and sequence watch, in its place among the others: a line of another
shape, a damaged one, and any line that does not plainly follow its neighbour. So there is one set of rules,
and a log reads the same here and in `wire.Decoder`, whatever its bytes and however it is cut into blocks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from whorlpulse.logfile.columns import Words
from whorlpulse.logfile.header import Entry, Header
from whorlpulse.logfile.rowstore import RowStore
from whorlpulse.logfile.stretch import PADDING, SHORT_RUN, Block, Stretch
from whorlpulse.pulses import KEEP_ALIVE, OVERRUN, IntArray, Rows
from whorlpulse.wire import Gap, Message, Meta, Pulse, Tally
from whorlpulse.wire.decoder import LineJudge
from whorlpulse.wire.grammar import LINE_LIMIT

#: Bytes that are worked on at once: small enough for the processor's cache, long enough for whole-array
#: steps.
_BLOCK: Final = 1 << 18
#: Short runs in one block before the rest of it is searched for line ends.
_SHORT_RUNS: Final = 6


@dataclass(frozen=True)
class Log:
    """A log that was read: what its `#` lines say, its pulse lines, and the fate of every line.

    gap_line (g,) int64: number of the line that stands after each of `rows`' gaps.
    """

    header: Header
    rows: Rows
    tally: Tally
    gap_line: IntArray


class LogReader:
    """Reads a log block by block: `feed` its bytes, then `finish`."""

    def __init__(self, seq_bits: int = 16, *, heed_seq_bits: bool = True) -> None:
        """seq_bits: width of the sequence number until a `seq_bits` line says otherwise.

        heed_seq_bits: False keeps to the given width whatever the log says.
        """
        self._judge = LineJudge(seq_bits, heed_seq_bits=heed_seq_bits)
        self._store = RowStore()
        self._entries: list[Entry] = []
        self._buffer = bytearray(_BLOCK + PADDING)
        self._filled = 0
        self._skipping = False  # inside a line that was cut off as too long

    @property
    def width_to_read_again_with(self) -> int | None:
        """The log's last `seq_bits`, if it came too late for some of the lines; None if all is well."""
        watch = self._judge.watch
        return watch.bits if watch.bits_changed else None

    def feed(self, block: bytes) -> None:
        """Take the next bytes of the log, any number of them."""
        rest = memoryview(block)
        while len(rest):
            taken = min(len(rest), _BLOCK - self._filled)
            self._buffer[self._filled : self._filled + taken] = rest[:taken]
            self._filled += taken
            rest = rest[taken:]
            if self._filled == _BLOCK:
                self._read_whole_lines()

    def finish(self) -> Log:
        """Return the log; raises LogError if it is in a format that this program does not know."""
        self._read_whole_lines()
        if self._filled:
            self._absorb(self._judge.judge_tail(bytes(self._buffer[: self._filled])))
            self._filled = 0
        header = Header.of(self._entries)
        rows, gap_line = self._store.joined()
        return Log(header, rows, self._judge.tally, gap_line)

    def _read_whole_lines(self) -> None:
        """Read what ends in LF; keep the start of the next line for later, unless it is endless."""
        start = 0
        if self._skipping:
            start = self._buffer.find(b"\n", 0, self._filled) + 1
            if start == 0:
                self._filled = 0
                return
            self._skipping = False
        stop = self._buffer.rfind(b"\n", start, self._filled) + 1
        if stop:
            self._read_lines(start, stop)
            start = stop
        kept = self._filled - start
        if kept > LINE_LIMIT + 1:
            self._absorb([self._judge.too_long(bytes(self._buffer[start : self._filled]))])
            self._skipping = True
            kept = 0
        self._buffer[:kept] = self._buffer[start : start + kept]
        self._filled = kept

    def _read_lines(self, start: int, stop: int) -> None:
        block = Block(self._buffer, stop)
        short_runs = 0
        while start < stop:
            stretch = block.run_from(start) if short_runs < _SHORT_RUNS else block.scattered_from(start)
            if stretch is None:
                end = self._buffer.find(b"\n", start, stop)
                self._absorb(self._judge.judge(bytes(self._buffer[start:end])))
                start = end + 1
                short_runs += 1
                continue
            short_runs += len(stretch.ok) < SHORT_RUN
            self._read_stretch(stretch)
            start = int(stretch.stop[-1]) + 1

    def _read_stretch(self, stretch: Stretch) -> None:
        """Add the stretch's clean lines column by column and judge the others one by one, in order."""
        first_line = self._judge.tally.total + 1
        n = len(stretch.ok)
        done = 0  # lines dealt with
        while done < n:
            mask = self._judge.watch.mask
            for at in self._to_be_judged(stretch, done):
                self._add_clean(stretch, done, at)
                done = at + 1
                self._judge.tally.total = first_line + done - 2
                text = bytes(self._buffer[int(stretch.start[at]) : int(stretch.stop[at])])
                self._absorb(self._judge.judge(text))
                if self._judge.watch.mask != mask:
                    break  # another width: what follows what must be seen anew
            else:
                self._add_clean(stretch, done, n)
                done = n
        self._judge.tally.total = first_line + n - 1

    def _to_be_judged(self, stretch: Stretch, start: int) -> list[int]:
        """Return the lines, from start on and ascending, that are not of a common shape and plainly in turn."""
        watch = self._judge.watch
        found: set[int] = set()
        ok = stretch.ok[start:]
        if not ok.all():
            unfit = np.flatnonzero(~ok)
            found.update(unfit.tolist(), (unfit[unfit < len(ok) - 1] + 1).tolist())
        if stretch.seq is not None and not stretch.in_turn:
            found.update(_breaks(stretch.seq[start:], watch.mask).tolist())
        if not watch.plainly_follows(_seq_of(stretch, start)):
            found.add(0)
        return [start + at for at in sorted(found)]

    def _add_clean(self, stretch: Stretch, start: int, stop: int) -> None:
        """Add lines that are pulses and follow each other without a gap."""
        if start == stop:
            return
        channel, tick = stretch.channel[start:stop], stretch.tick[start:stop]
        self._store.add_rows(channel, tick, None if stretch.count is None else stretch.count[start:stop])
        tally = self._judge.tally
        keep_alives = int(np.count_nonzero(channel == KEEP_ALIVE))
        overruns = int(np.count_nonzero(channel == OVERRUN))
        tally.keep_alives += keep_alives
        tally.overruns += overruns
        tally.pulses += len(tick) - keep_alives - overruns
        self._judge.watch.pass_over(chr(channel[-1]), int(tick[-1]), _seq_of(stretch, stop - 1))

    def _absorb(self, messages: list[Message]) -> None:
        for message in messages:
            if isinstance(message, Pulse):
                self._store.add_row(ord(message.channel), message.tick, message.count)
            elif isinstance(message, Gap):
                self._store.add_gap(message.lines, message.line)
            elif isinstance(message, Meta):
                self._entries.append(Entry(self._store.rows, message.line, message.key, message.value))


def _seq_of(stretch: Stretch, at: int) -> int | None:
    seq = -1 if stretch.seq is None else int(stretch.seq[at])
    return seq if seq >= 0 else None


def _breaks(seq: Words, mask: int) -> IntArray:
    """Return the positions in seq (n,), from 1 on, that do not plainly follow the one before.

    A line does where its number is the next one, or where both have none (-1, in a signed seq).
    """
    if not np.issubdtype(seq.dtype, np.signedinteger):
        at = np.flatnonzero(seq[1:] - seq[:-1] != 1) + 1  # these few wrap around, or are broken
        steps = seq[at].astype(np.int64) - seq[at - 1].astype(np.int64)
        broken: IntArray = at[(steps - 1) & mask != 0]
        return broken
    numbered = seq >= 0
    both, neither = numbered[1:] & numbered[:-1], ~(numbered[1:] | numbered[:-1])
    follows = (both & ((seq[1:] - seq[:-1] - 1) & mask == 0)) | neither
    return np.flatnonzero(~follows) + 1


def read_log(blocks: Callable[[], Iterable[bytes]]) -> Log:
    """Return the log whose bytes `blocks` gives, as many at a time as it likes.

    The last `seq_bits` line holds for the whole log. Where it comes after lines that it would have changed,
    blocks is called a second time. Raises LogError for a format that this program does not know.
    """
    reader = LogReader()
    for block in blocks():
        reader.feed(block)
    log = reader.finish()
    width = reader.width_to_read_again_with
    if width is None:
        return log
    reader = LogReader(width, heed_seq_bits=False)
    for block in blocks():
        reader.feed(block)
    return reader.finish()
