"""A column of times: which one it is, in which unit, and its cells as whole ticks without a digit lost."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Final

import numpy as np

from whorlpulse.importers.csv_table import Table, is_date, is_number
from whorlpulse.importers.names import listed
from whorlpulse.importers.recording import Unreadable
from whorlpulse.pulses import BoolArray, IntArray

#: Seconds in a unit, as powers of ten.
UNITS: Final = {"s": 0, "ms": -3, "us": -6, "ns": -9}
_SPELLED: Final = {
    "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s",
    "ms": "ms", "msec": "ms", "millis": "ms", "millisecond": "ms", "milliseconds": "ms",
    "us": "us", "µs": "us", "μs": "us", "usec": "us", "micros": "us", "microsecond": "us", "microseconds": "us",
    "ns": "ns", "nsec": "ns", "nanosecond": "ns", "nanoseconds": "ns",
}  # fmt: skip
_TIME_WORDS: Final = frozenset(("t", "time", "timestamp", "elapsed", "clock", "zeit", "temps", *_SPELLED)) - {"f"}
#: Pulses of one channel come between 3 ms and 3 s apart (common practice, no source); so a unit is guessed.
_SHORTEST_S: Final = 0.003
#: Ticks are a microsecond or finer as the cells' decimals ask, down to a nanosecond.
_COARSEST_DIGITS, _FINEST_DIGITS = 6, 9
_LIMIT_S: Final = 2**63 // 10**_FINEST_DIGITS
#: Times that begin later than a day are counted from the first one: dates, or a counter that ran long before.
_LATE_S: Final = 86400


@dataclass(frozen=True)
class Times:
    """tick (n,) int64, 0 where ok (n,) is False (the cell is no time). tick_hz; notes of what was guessed."""

    tick: IntArray
    ok: BoolArray
    tick_hz: int
    notes: tuple[str, ...]


def words_of(name: str) -> list[str]:
    """Return the words of a column's name in lower case."""
    return [w for w in re.split(r"[^a-zµμ]+", name.lower()) if w]


def time_column(table: Table, asked: str | None) -> int | None:
    """Return the index of the time column: as asked, by its name, or the first that rises; None if there is none."""
    if asked is not None:
        found = table.column(asked)
        if found is None:
            raise Unreadable(f"has no column {asked!r}: it has {listed(table.columns)}")
        return found
    if table.has_header:
        for i, name in enumerate(table.columns):
            words = words_of(name)
            if words and words[0] in _TIME_WORDS:
                return i
    return next((i for i in range(len(table.columns)) if _rises(table.cells(i)[:1000])), None)


def _rises(cells: Sequence[str]) -> bool:
    """Whether cells are times: nearly all numbers or dates, in order, and not just a level that changes once."""
    if sum(map(is_date, cells)) > 0.9 * len(cells):
        return True
    numbers = [float(c) for c in cells if is_number(c)]
    if len(numbers) < max(2, 0.9 * len(cells)):
        return False
    steps = np.diff(numbers)
    return bool((steps >= 0).mean() > 0.9 and len(set(numbers)) > max(2, 0.3 * len(numbers)))


def unit_in_name(name: str) -> str | None:
    """Return the unit that a column's name ends with, as `time_ms` or `Time [s]`, or None."""
    words = words_of(name)
    return _SPELLED.get(words[-1]) if words else None


def read_times(cells: Sequence[str], name: str, unit: str | None, interval: float | None) -> Times:
    """Return a column's times in ticks.

    unit: as asked, None: by the column's name, or guessed from `interval`, the usual step between two pulses of a
    channel in the column's own unit. Raises Unreadable where hardly a cell is a time.
    """
    values, told = _values(cells, name, unit, interval)
    good = [v for v in values if v is not None]
    if 2 * len(good) <= len(values):
        raise Unreadable(f"column {name!r} has hardly a time in it: name the right one with --time-column")
    start = good[0].to_integral_value(rounding="ROUND_FLOOR") if not 0 <= good[0] < _LATE_S else Decimal(0)
    digits = _digits(good)
    tick, ok = _ticks([None if v is None else v - start for v in values], digits)
    notes = [f"times from column {name!r}, {told}; tick_hz {10**digits} chosen"]
    if start:
        notes.append(f"tick 0 is {start} s of the file's own clock")
    return Times(tick, ok, 10**digits, tuple(notes))


def _values(
    cells: Sequence[str], name: str, unit: str | None, interval: float | None
) -> tuple[list[Decimal | None], str]:
    """Return each cell in seconds, None where it is no time, and how they were read."""
    if sum(map(is_date, cells[:100])) > 50 or (cells and is_date(cells[0])):
        return [_of_date(c) for c in cells], "dates with a time of day"
    named = unit_in_name(name)
    chosen = unit or named or _guessed(interval)
    told = f"in {chosen}" + ("" if unit else " (by the name)" if named else " (guessed)")
    return [_of_number(c, UNITS[chosen]) for c in cells], told


def _digits(values: Sequence[Decimal]) -> int:
    """Return how many decimals of a second the ticks keep: those that are there, within bounds."""
    digits = max(-int(v.as_tuple().exponent) for v in values[:: max(1, len(values) // 10000)])
    return min(max(digits, _COARSEST_DIGITS), _FINEST_DIGITS)


def _ticks(seconds: Sequence[Decimal | None], digits: int) -> tuple[IntArray, BoolArray]:
    """Return ticks (n,) and which (n,) of them are times."""
    scale = Decimal(10) ** digits
    kept = [s if s is not None and 0 <= s < _LIMIT_S else None for s in seconds]
    tick = np.array([0 if s is None else int((s * scale).to_integral_value()) for s in kept], np.int64)
    return tick, np.array([s is not None for s in kept], bool)


def _guessed(interval: float | None) -> str:
    if interval is None or not interval > 0:
        return "s"
    return next((u for u, power in UNITS.items() if interval < _SHORTEST_S * 1000 * 10.0**-power), "ns")


def _of_number(cell: str, power: int) -> Decimal | None:
    if not is_number(cell) or len(cell) > 40:
        return None
    try:
        value = Decimal(cell).scaleb(power)
    except InvalidOperation:
        return None
    return value if abs(value.adjusted()) < 30 else None


def _of_date(cell: str) -> Decimal | None:
    """Return seconds since 1970 of a date with time of day; an offset from UTC is left out, the day goes on alike."""
    if not is_date(cell):
        return None
    head, _, part = re.sub(r"(Z|[+-]\d\d:?\d\d)$", "", cell.replace(",", ".")).replace(" ", "T").partition(".")
    try:
        whole = int(np.datetime64(head, "s").astype(np.int64))
    except ValueError:
        return None
    return Decimal(f"{whole}.{part or 0}")
