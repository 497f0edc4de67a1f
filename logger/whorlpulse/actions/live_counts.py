"""What a live view knows from each pulse as it comes: counts, the speed of now, and the rows of the last minute.

Everything here depends on the lines only, never on when or in what pieces they came, so that live figures are the
same for every chunking.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, deque
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from whorlpulse.actions.live_figures import LiveFigures
from whorlpulse.actions.live_passing import Passing
from whorlpulse.logfile.header import Entry, Header
from whorlpulse.wire import Message, Meta, Pulse

if TYPE_CHECKING:
    from whorlpulse.pulses import Rows

#: The window: figures of late are those of at most so many seconds and rows.
WINDOW_S: Final = 40.0
WINDOW_ROWS: Final = 3000
#: The speed of now: of so many whole wheel turns, or of the flyer's passages in so many seconds.
_WHEEL_TURNS: Final = 2
_FLYER_S: Final = 1.0
_STILL_S: Final = 3.0
#: Marks and lengths that are remembered; older ones stand in the log.
_MOST_NOTES: Final = 60
#: The window begins so many seconds before the length line that it needs: the flyer must be seen around it.
_BEFORE_LENGTH_S: Final = 2.0


@dataclass(frozen=True, slots=True)
class Noted:
    """A `length` or `mark` line: ticks since the log's first row, the raw tick, and the text behind it."""

    ticks: int
    tick: int
    text: str


@dataclass(frozen=True)
class WindowLog:
    """A short log: rows of late and the `#` lines that they need. start_s, end_s: of its rows, since the log's first.

    Where it is not the whole log, its first `length` line has the value 0: the count of yarn starts there.
    passages: of the wheel's targets before it. before, upto: of each shaft's targets, before it and up to its end.
    """

    rows: Rows
    header: Header
    start_s: float
    end_s: float
    whole: bool
    passages: int
    before: Mapping[str, int]
    upto: Mapping[str, int]


class LiveCounts(LiveFigures):
    """Counts what a stream of bytes says, and keeps its rows of late."""

    def __init__(
        self,
        speed: float = 1.0,
        window_s: float = WINDOW_S,
        most: int = WINDOW_ROWS,
        read_m: Callable[[str], float] | None = None,
    ) -> None:
        """window_s, most: seconds by the board's clock, and rows, that the window has at most.

        read_m: the metres of a `length` line's value and unit; raises ValueError for what is no length.
        """
        super().__init__(speed)
        self.speed = speed
        self._window_s, self._most = window_s, most
        #: Each row with its ticks since the log's first, and the lines lost before it (-1: none).
        self._rows_kept: list[tuple[int, Pulse, int]] = []
        self._lost_before = -1
        self._dropped = 0
        self._passing = {letter: Passing() for letter in "wf"}
        self.lengths: deque[Noted] = deque(maxlen=_MOST_NOTES)
        self.marks: deque[Noted] = deque(maxlen=_MOST_NOTES)
        self.length_lines = 0
        self.noted_m = 0.0
        self._read_m = read_m

    @property
    def rows_seen(self) -> int:
        """How many pulse lines came."""
        return self._dropped + len(self._rows_kept)

    @property
    def log_s(self) -> float:
        """Seconds by the board's clock since the log's first row."""
        return self._ticks / self.header.tick_hz

    def wheel_per_min(self, targets: int) -> float | None:
        """Return wheel turns a minute over its last two turns; 0 if it stands, None if that is not known yet."""
        return self._per_min("w", targets, _WHEEL_TURNS * targets, None)

    def flyer_per_min(self, targets: int) -> float | None:
        """Return flyer turns a minute over the last second; 0 if it stands, None if that is not known yet."""
        return self._per_min("f", targets, 2, _FLYER_S * self.header.tick_hz)

    def wheel_angle(self, targets: int) -> float | None:
        """Return the wheel's angle in turns past the log's first passage, run on from the last; None before it."""
        return self._passing["w"].angle(targets, self._ticks)

    def standing(self) -> bool:
        """Whether neither shaft has passed a target for three seconds by the board's clock."""
        since = [self._ticks - p.last for p in self._passing.values() if p.last is not None]
        return not since or min(since) > _STILL_S * self.header.tick_hz

    def turned_since(self, rows: int) -> bool:
        """Whether a shaft has passed a target after the log's first `rows` rows (of those that are kept)."""
        return any(pulse.channel in "wf" for _, pulse, _ in self._rows_kept[max(rows - self._dropped, 0) :])

    def noted(self, key: str, tick: int, text: str) -> None:
        """Learn of a `length` or `mark` line at a raw tick near the last line's."""
        half = (self._mask + 1) // 2
        step = tick - (self.last.tick if self.last is not None else tick)
        step = (step + half) % (self._mask + 1) - half
        note = Noted(max(self._ticks + step, 0), tick, text)
        if key == "length":
            self._length(note)
        else:
            self.marks.append(note)

    def _length(self, note: Noted) -> None:
        self.length_lines += 1
        self.lengths.append(note)
        if not note.text.strip("0. "):  # a zero, its unit left out: the yarn begins here
            self.noted_m = 0.0
        elif self._read_m is not None:
            with suppress(ValueError):  # the totals' notes say so
                self.noted_m += self._read_m(note.text)

    def window(self) -> WindowLog | None:
        """Return the rows of late as a short log, None before the first row.

        It reaches back over the last seconds, or to the `length` line before the last, where those rows are kept.
        """
        if not self._rows_kept:
            return None
        hz = self.header.tick_hz
        since = self._ticks - round(self._window_s * hz)
        if len(self.lengths) > 1:
            since = min(since, self.lengths[-2].ticks - round(_BEFORE_LENGTH_S * hz))
        elif self.lengths:
            since = 0
        first = max(bisect_left(self._rows_kept, since, key=_since), len(self._rows_kept) - self._most)
        whole = first == 0 and self._dropped == 0
        header = Header.of([*self._entries.values(), *self._length_entries(first, whole=whole)])
        upto = dict(self.pulses)
        within = self._passages(first)
        before = {letter: passages - within[letter] for letter, passages in upto.items()}
        start_s = self._rows_kept[first][0] / hz
        return WindowLog(self._rows_from(first), header, start_s, self.log_s, whole, before.get("w", 0), before, upto)

    def _message(self, message: Message, at_s: float, unix_s: float) -> None:
        super()._message(message, at_s, unix_s)
        if isinstance(message, Meta) and message.key in ("length", "mark"):
            tick, _, text = message.value.partition(" ")
            if tick.isascii() and tick.isdigit() and len(tick) < 20:
                self.noted(message.key, int(tick), text.strip())

    def _keep(self, pulse: Pulse, at_s: float) -> None:
        kept = self._rows_kept
        kept.append((self._ticks, pulse, self._lost_before))
        self._lost_before = -1
        passing = self._passing.get(pulse.channel)
        if passing is not None:
            passing.add(self._ticks, pulse.count)
        if len(kept) >= 2 * self._most:
            self._dropped += len(kept) - self._most
            del kept[: -self._most]

    def _lines_lost(self, lines: int) -> None:
        self._lost_before = max(self._lost_before, 0) + lines
        for passing in self._passing.values():
            passing.break_off()

    def _per_min(self, letter: str, targets: int, passages: int, within: float | None) -> float | None:
        passing, hz = self._passing[letter], self.header.tick_hz
        if passing.last is None:
            return None
        if self._ticks - passing.last > _STILL_S * hz:
            return 0.0
        per_tick = passing.per_tick(passages, within, self._ticks)
        return None if per_tick is None else 60.0 * hz * per_tick / targets

    def _passages(self, first: int) -> Counter[str]:
        """How many of each channel's passages are in the kept rows from `first` on."""
        found: Counter[str] = Counter()
        for _, pulse, _ in self._rows_kept[first:]:
            found[pulse.channel] += pulse.count
        return found

    def _length_entries(self, first: int, *, whole: bool) -> list[Entry]:
        """The window's length lines, the first of them 0 where the log before the window is cut off."""
        start = self._rows_kept[first][0]
        found: list[Entry] = []
        for note in self.lengths:
            if note.ticks >= start or whole:
                row = bisect_left(self._rows_kept, note.ticks, lo=first, key=_since) - first
                value = note.text if whole or found else "0"
                found.append(Entry(row, 0, "length", f"{note.tick} {value}"))
        return found

    def _rows_from(self, first: int) -> Rows:
        import numpy as np

        from whorlpulse.pulses import Rows

        kept = self._rows_kept[first:]
        pulses = [pulse for _, pulse, _ in kept]
        n = len(kept)
        count = np.fromiter((p.count for p in pulses), np.int64, n)
        lost = np.fromiter((lines for _, _, lines in kept), np.int64, n)
        if not (first == 0 and self._dropped == 0):
            lost[0] = -1  # what was lost before the window is no gap in it
        count_row, gap_row = np.flatnonzero(count != 1), np.flatnonzero(lost >= 0)
        return Rows(
            np.fromiter((p.tick for p in pulses), np.int64, n),
            np.frombuffer("".join([p.channel for p in pulses]).encode(), np.uint8),
            count_row,
            count[count_row],
            gap_row,
            lost[gap_row],
        )


def _since(row: tuple[int, Pulse, int]) -> int:
    return row[0]
