"""CSV with times: rows that are pulses, columns of levels, or a column of times for each shaft."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from whorlpulse.importers.csv_table import Table, is_number, read_table
from whorlpulse.importers.csv_times import Times, read_times, time_column, unit_in_name, words_of
from whorlpulse.importers.edges import Held, find_edges
from whorlpulse.importers.names import by_name, letter_of, listed, told
from whorlpulse.importers.recording import NothingFound, Recording, Unreadable, merged
from whorlpulse.pulses import BoolArray, FloatArray, IntArray

_LEVEL_WORDS: Final = {
    "low": 0.0, "high": 1.0, "l": 0.0, "h": 1.0, "false": 0.0, "true": 1.0, "off": 0.0, "on": 1.0,
}  # fmt: skip
_COUNT_WORDS: Final = frozenset(("count", "counts", "pulses", "n"))


def from_csv(
    data: bytes,
    columns: Mapping[str, str] | None = None,
    times_in: str | None = None,
    unit: str | None = None,
    *,
    falling: bool | None = None,
) -> Recording:
    """Return the pulses in a CSV file.

    columns: {letter: column}, a column by its header or its number from 1; None: by name, or guessed. times_in: the
    time column; unit: s, ms, us or ns. falling: the target pulls the level down (None: two-valued levels rise, of
    measured ones it is found out). What is guessed is said in the notes.
    Raises Unreadable and NothingFound.
    """
    table = read_table(data)
    at = time_column(table, times_in)
    lists = None if times_in else _time_lists(table, at, columns)
    if lists:
        return _from_lists(table, lists, unit)
    if at is None:
        raise Unreadable(f"has no column of times: name it with --time-column; it has {listed(table.columns)}")
    events = _event_column(table, at)
    if columns is None and events is not None:
        return _from_events(table, at, events, unit)
    mapping, how = _level_columns(table, at, columns)
    if not mapping:
        raise Unreadable(
            f"has no column for a shaft: name it with --channels w=...,f=...; it has {listed(table.columns)}"
        )
    return _from_levels(table, at, mapping, (unit, falling), how)


def _from_events(table: Table, at: int, letters_in: int, unit: str | None) -> Recording:
    """Each row is a pulse (or several, by a count column)."""
    letters = np.array([ord(letter_of(c) or "?") for c in table.cells(letters_in)], np.uint8)
    kinds, numbers = np.unique(letters[letters != ord("?")], return_counts=True)
    busiest = np.flatnonzero(letters == kinds[np.argmax(numbers)])
    cells = table.cells(at)
    times = read_times(cells, table.columns[at], unit, _interval([cells[i] for i in busiest]))
    counts, count_ok = _counts(table, (at, letters_in))
    ok = times.ok & (letters != ord("?")) & count_ok
    put_in = _put_in(table)
    notes_of_rows = _left_out(table, ok)
    if (ok & put_in).any():
        notes_of_rows.append(
            f"{int((ok & put_in).sum())} rows with the flag 'filled' were left out: no sensor saw them"
        )
    ok &= ~put_in
    order = np.flatnonzero(ok)[np.argsort(times.tick[ok], kind="stable")]
    notes = [table.how, *times.notes, *notes_of_rows]
    notes.insert(1, f"each row is a pulse, its shaft in column {table.columns[letters_in]!r}")
    if (np.diff(times.tick[ok]) < 0).any():
        notes.append("the rows were not in order of time, and were put in order")
    if len(order) == 0:
        raise NothingFound("has no row with both a time and a shaft")
    count = None if counts is None else counts[order]
    return Recording(times.tick_hz, times.tick[order], letters[order], tuple(notes), None, count)


def _event_column(table: Table, at: int) -> int | None:
    """Return the column whose cells name shafts, if there is one."""
    for i in range(len(table.columns)):
        cells = [c for c in table.cells(i)[:1000] if c]
        if i != at and cells and sum(letter_of(c) is not None for c in cells) > 0.9 * len(cells):
            return i
    return None


def _counts(table: Table, taken: tuple[int, int]) -> tuple[IntArray | None, BoolArray]:
    """Return (n,) pulses a row from a column that is called so, and where they are whole numbers of 1 or more."""
    for i, name in enumerate(table.columns):
        if i not in taken and table.has_header and _COUNT_WORDS & set(words_of(name)):
            cells = table.cells(i)
            ok = np.array([c.isascii() and c.isdigit() and len(c) < 10 and int(c) > 0 for c in cells], bool)
            return np.array([int(c) if good else 1 for c, good in zip(cells, ok, strict=True)], np.int64), ok
    return None, np.ones(len(table.rows), bool)


def _put_in(table: Table) -> BoolArray:
    """Return (n,) which rows of a table that was made from a log are pulses put in where none was reported."""
    index = table.column("flags")
    cells = table.cells(index) if index is not None else [""] * len(table.rows)
    return np.array(["filled" in c.split() for c in cells], bool)


def _time_lists(table: Table, at: int | None, columns: Mapping[str, str] | None) -> dict[str, int]:
    """Return {letter: column} when every shaft has its own column of times, as `wheel_s` and `flyer_s`."""
    if columns is not None:
        mapping = {letter: _index(table, name) for letter, name in columns.items()}
    else:
        named = by_name({c: c for c in table.columns}, "columns") if table.has_header else {}
        mapping = {letter: table.columns.index(name) for letter, name in named.items()}
    if at is not None and at not in mapping.values():
        return {}
    return mapping if mapping and all(_is_list(table.cells(i)) for i in mapping.values()) else {}


def _is_list(cells: Sequence[str]) -> bool:
    numbers = [float(c) for c in cells[:1000] if is_number(c)]
    return len(numbers) > 2 and bool((np.diff(numbers) > 0).all())


def _from_lists(table: Table, lists: Mapping[str, int], unit: str | None) -> Recording:
    """Each column holds the times of one shaft's pulses; shorter ones end with empty cells."""
    cells: list[str] = []
    letters: list[int] = []
    for letter, index in lists.items():
        mine = [c for c in table.cells(index) if c]
        cells += mine
        letters += [ord(letter)] * len(mine)
    name = table.columns[next(iter(lists.values()))]
    intervals = [_interval(table.cells(i)) for i in lists.values()]
    times = read_times(cells, name, unit or unit_in_name(name), min((x for x in intervals if x), default=None))
    ok = times.ok
    order = np.flatnonzero(ok)[np.argsort(times.tick[ok], kind="stable")]
    names = told({letter: table.columns[i] for letter, i in lists.items()})
    notes = [table.how, f"each column holds the times of one shaft: {names}", *times.notes]
    if not ok.all():
        notes.append(f"{int((~ok).sum())} cells that are no times were left out")
    return Recording(times.tick_hz, times.tick[order], np.array(letters, np.uint8)[order], tuple(notes))


def _level_columns(table: Table, at: int, columns: Mapping[str, str] | None) -> tuple[dict[str, int], str]:
    """Return {letter: column} and how it came to that."""
    if columns is not None:
        return {letter: _index(table, name) for letter, name in columns.items()}, "as told"
    others = [i for i in range(len(table.columns)) if i != at]
    if table.has_header:
        found = by_name({table.columns[i]: table.columns[i] for i in others}, "columns")
        if found:
            return {letter: table.columns.index(name) for letter, name in found.items()}, "by the header"
    numeric = [i for i in others if _levels(table.cells(i)) is not None]
    guess = {1: "f", 2: "wf"}.get(len(numeric), "")
    return dict(zip(guess, numeric, strict=False)), "guessed from their order"


def _index(table: Table, name: str) -> int:
    found = table.column(name)
    if found is None:
        raise Unreadable(f"has no column {name!r}: it has {listed(table.columns)}")
    return found


def _levels(cells: Sequence[str]) -> FloatArray | None:
    """Return a column's levels (n,), an empty cell as the one before it; None if it has other words."""
    values = []
    last = np.nan
    for cell in cells:
        if cell:
            word = _LEVEL_WORDS.get(cell.lower())
            if word is None and not is_number(cell):
                return None
            last = float(cell) if word is None else word
        values.append(last)
    levels = np.array(values, np.float64)
    known = np.flatnonzero(np.isfinite(levels))
    if len(known) == 0:
        return None
    levels[: known[0]] = levels[known[0]]
    return np.nan_to_num(levels)


def _from_levels(
    table: Table, at: int, mapping: Mapping[str, int], asked: tuple[str | None, bool | None], how: str
) -> Recording:
    """Each row is a sample, or a change of a level; a pulse is where a level comes to the target's."""
    unit, falling = asked
    edges, ways = {}, []
    for letter, index in mapping.items():
        levels = _levels(table.cells(index))
        if levels is None:
            raise Unreadable(
                f"column {table.columns[index]!r} has cells that are no levels: name another with --channels"
            )
        edges[letter], way = _edges(levels, falling=falling)
        ways.append(f"{letter} from {table.columns[index]!r} {way}, {len(edges[letter])} pulses")
    cells = table.cells(at)
    longest = max(edges.values(), key=len)
    if len(longest) == 0:
        raise NothingFound(f"no level changes as a pulse does: looked at {'; '.join(ways)}")
    interval = _interval([cells[int(i)] for i in longest])
    times = read_times(cells, table.columns[at], unit, interval)
    _check_order(table, times)
    rows = np.flatnonzero(times.ok)
    ticks = {
        letter: np.rint(np.interp(e, rows, times.tick[rows] - times.tick[rows[0]])).astype(np.int64)
        + times.tick[rows[0]]
        for letter, e in edges.items()
    }
    notes = [table.how, *times.notes, f"levels {how}: {'; '.join(ways)}", *_left_out(table, times.ok)]
    return merged(times.tick_hz, ticks, notes, (int(times.tick[rows[0]]), int(times.tick[rows[-1]])))


def _edges(levels: FloatArray, *, falling: bool | None) -> tuple[FloatArray, str]:
    """Return where (in rows) the target comes, and the way in words: exact for two values, between rows otherwise."""
    kinds = np.unique(levels)
    if len(kinds) <= 2:
        high = levels == kinds[-1] if len(kinds) == 2 else np.zeros(len(levels), bool)
        come = high[1:] & ~high[:-1] if not falling else ~high[1:] & high[:-1]
        return np.flatnonzero(come).astype(np.float64) + 1.0, "falls" if falling else "rises"
    found = find_edges(Held(levels), falling=falling)
    if found is None:
        return np.empty(0), "stays within its noise"
    way = "falls" if found.falling else "rises"
    return found.at, f"{way} through half of its height" + (" (guessed)" if falling is None else "")


def _check_order(table: Table, times: Times) -> None:
    rows = np.flatnonzero(times.ok)
    back = np.flatnonzero(np.diff(times.tick[rows]) < 0)
    if len(back):
        raise Unreadable(f"line {table.line[rows[back[0] + 1]]}: the time goes back there: cut the file into its parts")


def _left_out(table: Table, ok: BoolArray) -> list[str]:
    bad = np.flatnonzero(~ok)
    if len(bad) == 0:
        return []
    return [f"{len(bad)} rows that can't be read were left out, the first is line {table.line[bad[0]]}"]


def _interval(cells: Sequence[str]) -> float | None:
    """Return the usual step between numbers, None without two of them."""
    numbers = [float(c) for c in cells if is_number(c)]
    return float(np.median(np.diff(numbers))) if len(numbers) > 1 else None
