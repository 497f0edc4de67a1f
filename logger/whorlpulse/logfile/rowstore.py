"""Rows of a log as they come in: columns that grow without being copied, where the system can do that."""

from __future__ import annotations

import mmap
import sys
from array import array
from contextlib import suppress
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from whorlpulse.pulses import BoolArray, ByteArray, IntArray, Rows

#: Rows that there is room for at first.
_FIRST_ROWS: Final = 1 << 16
#: From so many bytes on a column lies in memory of its own that can grow without being copied.
_OWN_MEMORY: Final = 1 << 22


class _Column:
    """A column that grows, twice as long each time; what is not used yet takes no memory."""

    def __init__(self, kind: type[np.int64] | type[np.uint8]) -> None:
        self._kind = np.dtype(kind)
        self._memory: mmap.mmap | None = None
        self.array: npt.NDArray[Any] = np.empty(_FIRST_ROWS, self._kind)

    def grow(self) -> None:
        """Make room for twice as many rows."""
        self._resize(2 * len(self.array), len(self.array))

    def cut(self, rows: int) -> npt.NDArray[Any]:
        """Return the first rows; the rest is given back."""
        self._resize(rows, rows)
        return self.array[:rows]

    def _resize(self, rows: int, kept: int) -> None:
        size = rows * self._kind.itemsize
        if self._memory is not None:
            self.array = self.array[:0].copy()  # memory that is looked at can't be resized
            with suppress(OSError, BufferError):  # where it can't be, it stays as it was, and what it holds is copied
                self._memory.resize(max(size, 1))
            old = np.frombuffer(self._memory, self._kind)
            if len(old) >= rows:
                self.array = old
                return
        else:
            old = self.array
        new, self._memory = self._new(rows, size)
        new[:kept] = old[:kept]
        self.array = new

    def _new(self, rows: int, size: int) -> tuple[npt.NDArray[Any], mmap.mmap | None]:
        if size < _OWN_MEMORY or sys.platform != "linux":  # elsewhere a piece of memory can't be made longer
            return np.empty(rows, self._kind), None
        memory = mmap.mmap(-1, size, mmap.MAP_PRIVATE | mmap.MAP_ANONYMOUS)
        with suppress(OSError):  # in large pieces new memory comes in a tenth of the time
            memory.madvise(mmap.MADV_HUGEPAGE)
        return np.frombuffer(memory, self._kind), memory


class RowStore:
    """Collects rows, counts and gaps; nine bytes a row."""

    def __init__(self) -> None:
        self.rows = 0
        self._tick, self._channel = _Column(np.int64), _Column(np.uint8)
        self._count_row, self._count_value = array("q"), array("q")
        self._gap_row, self._gap_lines, self._gap_line = array("q"), array("q"), array("q")

    def add_gap(self, lines: int, line: int) -> None:
        """Note that so many lines are missing before the next row, which stands in line `line`."""
        self._gap_row.append(self.rows)
        self._gap_lines.append(lines)
        self._gap_line.append(line)

    def add_row(self, channel: int, tick: int, count: int) -> None:
        """Add one row."""
        self._room(1)
        self._tick.array[self.rows] = tick
        self._channel.array[self.rows] = channel
        if count != 1:
            self._count_row.append(self.rows)
            self._count_value.append(count)
        self.rows += 1

    def add_rows(self, channel: ByteArray, tick: IntArray, count: IntArray | None) -> None:
        """Add rows: channel (n,), tick (n,), count (n,) or None where all are 1."""
        if count is not None:
            not_one: BoolArray = count != 1
            at = np.flatnonzero(not_one)
            self._count_row.frombytes((at + self.rows).astype(np.int64).tobytes())
            self._count_value.frombytes(count[at].tobytes())
        self._room(len(tick))
        places = slice(self.rows, self.rows + len(tick))
        self._tick.array[places] = tick
        self._channel.array[places] = channel
        self.rows += len(tick)

    def joined(self) -> tuple[Rows, IntArray]:
        """Return all rows, and (g,) the line number after each gap; the store is spent afterwards."""
        columns = self._count_row, self._count_value, self._gap_row, self._gap_lines, self._gap_line
        sparse = [np.array(column, np.int64) for column in columns]
        return Rows(self._tick.cut(self.rows), self._channel.cut(self.rows), *sparse[:4]), sparse[4]

    def _room(self, rows: int) -> None:
        """Make room for so many more rows, at most as many as there are at first."""
        if self.rows + rows > len(self._channel.array):
            self._tick.grow()
            self._channel.grow()
