"""Stretches of lines of common shapes: found in a block of bytes, and read in columns.

Two ways to find them. A *run*: neighbours of equal length are a table with a fixed stride, seen without a
copy. *Scattered* lines: where lengths keep changing, the line ends are searched for and lines of equal
length gathered.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from whorlpulse.logfile.columns import LF, Columns, Shape, Words, read_columns
from whorlpulse.pulses import BoolArray, ByteArray, IntArray

#: Bytes that must be readable after the last line of a block, so that words may reach over its end.
PADDING: Final = 64

#: Shorter runs cost more than they save; below this many rows a group of lines is left to the grammar.
SHORT_RUN: Final = 256
_FEW: Final = 8
#: Ways in which lines of one length may differ in shape before the rest is left to the grammar.
_SHAPES: Final = 12

_SEQ_NONE: Final = -1
_TYPES: Final = {1: "u1", 2: "<u2", 4: "<u4", 8: "<u8"}


@dataclass(frozen=True, slots=True)
class Stretch:
    """Successive lines of a block, read in columns.

    ok (n,): the columns hold; other lines are for the grammar. seq (n,): None where no line has a number, else -1
    where a line has none. count (n,): None where every line stands for one pulse. start (n,), stop (n,): where
    each line begins, and its LF. in_turn: each line that is ok has the number that its place after the first one says.
    """

    ok: BoolArray
    channel: ByteArray
    tick: IntArray
    seq: Words | None
    count: IntArray | None
    start: IntArray | range
    stop: IntArray | range
    in_turn: bool = False


class Block:
    """Whole lines in a buffer that has `PADDING` bytes to spare after them."""

    def __init__(self, buffer: bytearray, stop: int) -> None:
        """buffer: the bytes; stop: just after the last LF."""
        self.buffer = buffer
        self.stop = stop

    def run_from(self, start: int) -> Stretch | None:
        """Return the run that begins with the line at `start`; None if that line is of no common shape.

        A run is cut off where too many of its lines do not fit the first one's shape.
        """
        end = self.buffer.find(b"\n", start, self.stop)
        shape = Shape.of(bytes(self.buffer[start:end]))
        if shape is None:
            return None
        stride = end + 1 - start
        most = (self.stop - start) // stride
        rows = most
        if self.buffer[end + (most - 1) * stride] != LF:  # most often it is, and then the columns tell
            rows = self._rows_of_length(end, most, stride)
        columns = self._columns(start, rows, stride, shape)
        if rows == most and not columns.ok.all():
            rows = self._rows_of_length(end, most, stride)
            columns = columns if rows == most else self._columns(start, rows, stride, shape)
        kept = self._rows_to_keep(columns.ok, start, stride)
        if kept == 0:
            return None
        if kept < rows:
            rows, columns = kept, self._columns(start, kept, stride, shape)
        after = start + rows * stride
        return Stretch(
            columns.ok,
            columns.channel,
            columns.tick,
            columns.seq,
            None if columns.count is None else columns.count.astype(np.int64),
            range(start, after, stride),
            range(end, after, stride),
            columns.in_turn,
        )

    def _rows_of_length(self, end: int, most: int, stride: int) -> int:
        """Return how many leading rows end where a row of this length should."""
        at_end = np.ndarray((most,), np.uint8, self.buffer, end, (stride,)) == LF
        return most if at_end.all() else int(at_end.argmin())

    def _rows_to_keep(self, ok: BoolArray, start: int, stride: int) -> int:
        """Return how many leading rows make a run: few unfit ones among them, and each of these one line."""
        unfit = np.flatnonzero(~ok)
        if len(unfit) > max(_FEW, len(ok) // 64):
            return int(unfit[0])
        for row in unfit:
            at = start + int(row) * stride
            # two short lines can end where one of the run would: a row that was not read may hold both
            if self.buffer.find(b"\n", at, at + stride) != at + stride - 1:
                return int(row)
        return len(ok)

    def scattered_from(self, start: int) -> Stretch:
        """Return all lines from `start` to the end of the block."""
        text = np.frombuffer(self.buffer, np.uint8)
        stops = np.flatnonzero(text[start : self.stop] == LF)
        stops += start
        starts = np.empty_like(stops)
        starts[0] = start
        starts[1:] = stops[:-1] + 1
        n = len(stops)
        seq, count = np.full(n, _SEQ_NONE), np.ones(n, np.int64)
        ok, channel, tick = np.zeros(n, np.bool_), np.zeros(n, np.uint8), np.zeros(n, np.int64)
        out = Stretch(ok, channel, tick, seq, count, starts, stops)
        length = np.minimum(stops - starts, 255).astype(np.uint8)
        length[text[starts] == ord("#")] = 0
        order = np.argsort(length, kind="stable")
        bounds = np.cumsum(np.bincount(length, minlength=256))
        for size in range(len(b"c,1"), 255):
            group = order[bounds[size - 1] : bounds[size]]
            if len(group) >= _FEW:
                self._read_group(group, out)
        return out

    def _read_group(self, group: IntArray, out: Stretch) -> None:
        """Read lines of one length into `out`, shape after shape; what is left over stays not ok."""
        tried: set[Shape] = set()
        starts = np.asarray(out.start)
        for _ in range(_SHAPES):
            if len(group) < _FEW:
                return
            at = int(group[0])
            shape = Shape.of(bytes(self.buffer[int(out.start[at]) : int(out.stop[at])]))
            if shape is None or shape in tried:
                group = group[1:]
                continue
            tried.add(shape)
            columns = self._gathered(starts[group], shape)
            fits = columns.ok
            lines = group[fits]
            out.ok[lines] = True
            out.channel[lines] = columns.channel[fits]
            out.tick[lines] = columns.tick[fits]
            if columns.seq is not None and out.seq is not None:
                out.seq[lines] = columns.seq[fits]
            if columns.count is not None and out.count is not None:
                out.count[lines] = columns.count[fits]
            group = group[~fits]

    def _columns(self, start: int, rows: int, stride: int, shape: Shape) -> Columns:
        def words_at(offset: int, width: int) -> Words:
            return np.ndarray((rows,), _TYPES[width], self.buffer, start + offset, (stride,))

        return read_columns(words_at, shape, neighbours=rows >= SHORT_RUN)

    def _gathered(self, starts: IntArray, shape: Shape) -> Columns:
        def words_at(offset: int, width: int) -> Words:
            every = np.ndarray((self.stop + PADDING - 8,), _TYPES[width], self.buffer, 0, (1,))
            gathered: Words = every[starts + offset]
            return gathered

        return read_columns(words_at, shape)
