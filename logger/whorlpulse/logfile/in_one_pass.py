"""The compiled reader's part: lines that are plainly in turn, straight from a block's bytes into the store's columns.

It stops at every line that is not; the caller hands that to the grammar and goes on behind it.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from whorlpulse.compiled import Kernel, kernel
from whorlpulse.logfile.rowstore import RowStore
from whorlpulse.wire.decoder import LineJudge

#: Bytes of a usual line, by which a log's lines are estimated.
_USUAL_LINE: Final = 21
#: At most so many rows at a time.
_ROWS: Final = 1 << 16


class OnePass:
    """Reads clean lines by the compiled loop, in the stead of whole columns."""

    def __init__(self, loop: Kernel, buffer: bytearray, judge: LineJudge, store: RowStore) -> None:
        """buffer: where the blocks are; judge: has tally and sequence watch; store: takes the rows."""
        self._loop, self._judge, self._store = loop, judge, store
        self._text = np.frombuffer(buffer, np.uint8)
        self._counts = np.empty((2, _ROWS), np.int64)
        self._watch = np.empty(10, np.int64)

    @staticmethod
    def worth_while(read: int) -> Kernel | None:
        """Return the loop once so many bytes of a log were read that what is left may well be worth it."""
        return kernel("read_lines", read // _USUAL_LINE)

    def read(self, start: int, stop: int) -> int:
        """Read the lines from start to stop; return where the first one begins that is not plainly in turn."""
        watch, tally = self._judge.watch, self._judge.tally
        while start < stop:
            tick, channel = self._store.room(_ROWS)
            last = watch.last
            self._watch[:4] = watch.mask, last or 0, last is not None, watch.plainly_follows(None)
            start = self._loop(self._text, start, stop, self._watch, tick, channel, self._counts)
            lines, counts, keep_alives, overruns, seq, letter, at_tick = self._watch[3:].tolist()
            if lines:
                self._store.took(lines, *self._counts[:, :counts])
                tally.total += lines
                tally.keep_alives += keep_alives
                tally.overruns += overruns
                tally.pulses += lines - keep_alives - overruns
                watch.pass_over(chr(letter), at_tick, seq if letter else None)
            if lines < len(tick):
                break
        return start
