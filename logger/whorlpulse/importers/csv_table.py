"""Text with columns: what separates them, whether a comma is the decimal point, and whether a header names them.

RFC 4180 describes the commas and quotes; semicolons with decimal commas, tabs, bars and blanks are met as often.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass
from typing import Final

from whorlpulse.importers.recording import Unreadable

_LOOKED_AT: Final = 200
_SEPARATORS: Final = {";": "semicolons", "\t": "tabs", ",": "commas", "|": "bars", " ": "blanks"}
_NUMBER: Final = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,2})?")
_COMMA_NUMBER: Final = re.compile(r"[+-]?[0-9]*,[0-9]+([eE][+-]?[0-9]{1,2})?")
_DATE: Final = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d([.,]\d+)?)?(Z|[+-]\d\d:?\d\d)?", re.ASCII)


@dataclass(frozen=True)
class Table:
    """columns: the header's names, or numbers from 1. rows: cells, stripped; line: where each row stands.

    has_header; how: how it was read, as a sentence for the log's notes.
    """

    columns: tuple[str, ...]
    rows: list[list[str]]
    line: list[int]
    has_header: bool
    how: str

    def column(self, name: str) -> int | None:
        """Return the index of a column by its name (letter case aside) or its number from 1."""
        low = [c.lower() for c in self.columns]
        if name.lower() in low:
            return low.index(name.lower())
        if name.isascii() and name.isdigit() and len(name) < 6 and 1 <= int(name) <= len(self.columns):
            return int(name) - 1
        return None

    def cells(self, index: int) -> list[str]:
        """Return one column's cells, empty where a row is too short."""
        return [row[index] if index < len(row) else "" for row in self.rows]


def is_number(cell: str) -> bool:
    """Whether a cell of a table that was read is a decimal number (decimal commas have become points there)."""
    return _NUMBER.fullmatch(cell) is not None


def is_date(cell: str) -> bool:
    """Whether a cell is a date with a time of day, as ISO 8601 writes it."""
    return _DATE.fullmatch(cell) is not None


def read_table(data: bytes) -> Table:
    """Return the table in a file. Raises Unreadable if there is none."""
    text = _decoded(data)
    numbered = [(i, s) for i, s in enumerate(text.splitlines(), 1) if s.strip() and not s.lstrip().startswith("#")]
    if not numbered:
        raise Unreadable("has no rows: is it the right file?")
    separator = _separator([s for _, s in numbered[:_LOOKED_AT]])
    rows = _split([s for _, s in numbered], separator)
    has_header = len(rows) > 1 and not any(map(_is_value, rows[0]))
    names, body = (rows[0], rows[1:]) if has_header else ([], rows)
    how = [f"columns parted by {_SEPARATORS.get(separator, 'nothing')}", f"{'a' if has_header else 'no'} header"]
    if _decimal_comma(rows):
        body = [[_with_point(c) for c in r] for r in body]
        how.append("decimal comma")
    width = max(len(r) for r in rows[:_LOOKED_AT])
    line = [i for i, _ in numbered[int(has_header) :]]
    return Table(_columns(names, width), body, line, has_header, f"{', '.join(how)} (guessed)")


def _is_value(cell: str) -> bool:
    return is_number(cell) or is_date(cell) or _COMMA_NUMBER.fullmatch(cell) is not None


def _with_point(cell: str) -> str:
    return cell.replace(",", ".") if _COMMA_NUMBER.fullmatch(cell) else cell


def _columns(names: list[str], width: int) -> tuple[str, ...]:
    """The header's names, and numbers from 1 for columns that have none."""
    return tuple(names[i] if i < len(names) and names[i] else str(i + 1) for i in range(width))


def _decoded(data: bytes) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", "replace")
    if b"\0" in data[:4096]:
        raise Unreadable("is no text: it has NUL bytes; export it as CSV, or name its kind with --kind")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _separator(lines: list[str]) -> str:
    """Return the separator that parts most lines into one and the same number of columns, two or more."""
    best, best_score = "", 0
    for separator in _SEPARATORS:
        widths = Counter(len(row) for row in _split(lines, separator))
        score = max((n for width, n in widths.items() if width > 1), default=0)
        if score > best_score and 2 * score > len(lines):
            best, best_score = separator, score
    return best


def _split(lines: list[str], separator: str) -> list[list[str]]:
    if separator == " ":
        return [line.split() for line in lines]
    if not separator:
        return [[line.strip()] for line in lines]
    return [_cells(line, separator) for line in lines]


def _cells(line: str, separator: str) -> list[str]:
    """Return the cells of one line; a quoted cell ends with its line, so that line numbers stay true."""
    if '"' not in line:
        return [c.strip() for c in line.split(separator)]
    try:
        return [c.strip() for c in next(csv.reader([line], delimiter=separator, skipinitialspace=True))]
    except csv.Error as bad:
        raise Unreadable(f"is no table: {bad}; export it again as CSV") from None


def _decimal_comma(rows: list[list[str]]) -> bool:
    """Whether numbers have commas for points: some have, and none has a point."""
    cells = [c for row in rows[:_LOOKED_AT] for c in row]
    return any(map(_COMMA_NUMBER.fullmatch, cells)) and not any(is_number(c) and "." in c for c in cells)
