"""Rows of a log as they come in: columns that grow page by page, without ever moving what is there."""

from __future__ import annotations

from array import array
from typing import Final

import numpy as np

from whorlpulse.pulses import BoolArray, ByteArray, IntArray, Rows

#: Rows of the first page, and of the later ones: what is asked for four megabytes and more at once comes from the
#: system in large pieces, in a tenth of the time.
_FIRST_PAGE: Final = 1 << 16
_PAGE: Final = 1 << 19


class RowStore:
    """Collects rows, counts and gaps; nine bytes a row, and one page more while they are joined."""

    def __init__(self) -> None:
        self.rows = 0
        self._pages: list[tuple[IntArray, ByteArray]] = []
        self._used = 0  # rows in the last page
        self._count_row, self._count_value = array("q"), array("q")
        self._gap_row, self._gap_lines, self._gap_line = array("q"), array("q"), array("q")

    def add_gap(self, lines: int, line: int) -> None:
        """Note that so many lines are missing before the next row, which stands in line `line`."""
        self._gap_row.append(self.rows)
        self._gap_lines.append(lines)
        self._gap_line.append(line)

    def add_row(self, channel: int, tick: int, count: int) -> None:
        """Add one row."""
        self._room()
        page_tick, page_channel = self._pages[-1]
        page_tick[self._used] = tick
        page_channel[self._used] = channel
        if count != 1:
            self._count_row.append(self.rows)
            self._count_value.append(count)
        self._used += 1
        self.rows += 1

    def add_rows(self, channel: ByteArray, tick: IntArray, count: IntArray | None) -> None:
        """Add rows: channel (n,), tick (n,), count (n,) or None where all are 1."""
        if count is not None:
            not_one: BoolArray = count != 1
            at = np.flatnonzero(not_one)
            self._count_row.frombytes((at + self.rows).astype(np.int64).tobytes())
            self._count_value.frombytes(count[at].tobytes())
        start = 0
        while start < len(tick):
            free = self._room()
            stop = min(len(tick), start + free)
            page_tick, page_channel = self._pages[-1]
            used, self._used = self._used, self._used + stop - start
            page_tick[used : self._used] = tick[start:stop]
            page_channel[used : self._used] = channel[start:stop]
            start = stop
        self.rows += len(tick)

    def joined(self) -> tuple[Rows, IntArray]:
        """Return all rows, and (g,) the line number after each gap; the store is spent afterwards."""
        tick = np.empty(self.rows, np.int64)
        channel = np.empty(self.rows, np.uint8)
        start = 0
        self._pages.reverse()
        while self._pages:  # each page is given back as soon as it is copied
            page_tick, page_channel = self._pages.pop()
            stop = min(self.rows, start + len(page_tick))
            tick[start:stop] = page_tick[: stop - start]
            channel[start:stop] = page_channel[: stop - start]
            start = stop
        columns = self._count_row, self._count_value, self._gap_row, self._gap_lines, self._gap_line
        sparse = [np.array(column, np.int64) for column in columns]
        return Rows(tick, channel, *sparse[:4]), sparse[4]

    def _room(self) -> int:
        """Return how many rows fit into the last page, at least one."""
        if not self._pages or self._used == len(self._pages[-1][0]):
            rows = _PAGE if self._pages else _FIRST_PAGE
            memory = np.empty(9 * rows, np.uint8)
            self._pages.append((memory[: 8 * rows].view(np.int64), memory[8 * rows :]))
            self._used = 0
        return len(self._pages[-1][0]) - self._used
