"""The table that a gathering leaves: rows to and from a .jsonl, .csv or .parquet file, and the journal beside it.

While logs are being measured each row goes to the journal at once; the table itself appears whole or not at all.
After a kill the journal is there, itself lines of JSON, and the next gathering takes its rows over.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping
from pathlib import Path
from types import TracebackType
from typing import IO, Any, Final

import msgspec

from whorlpulse.findings.catalogue.gather import ERRORS
from whorlpulse.findings.gathered import COLUMNS, GatheredRow
from whorlpulse.sources.files import SourceError, read_bytes, reason, shown, write_new

ENDINGS: Final = (".parquet", ".csv", ".jsonl")
#: A hundred thousand rows are about a tenth of this.
_LARGEST: Final = 1 << 30
#: A spreadsheet takes text that begins so for a formula; an apostrophe before it says that it is text.
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "'")
_TEXTS: Final = frozenset(c.name for c in COLUMNS if c.kind is str and not c.listed)
_LISTS: Final = frozenset(c.name for c in COLUMNS if c.listed)


class Journal:
    """Rows as they are made, each on the disk's way before the next is begun."""

    def __init__(self, output: str | Path) -> None:
        """output: of the table. SourceError when nothing can be written beside it."""
        self.path = journal_of(output)
        try:
            self._file: IO[bytes] = open(self.path, "a+b")  # noqa: SIM115
            self._end_torn_line()
        except OSError as fault:
            raise _unwritable(self.path, fault) from fault

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        self._file.close()
        if self.path.stat().st_size == 0:  # nothing was measured, so nothing is to go on from
            self.path.unlink()

    def _end_torn_line(self) -> None:
        """Let the next row have a line of its own where the last one was torn by a kill."""
        if self._file.seek(0, io.SEEK_END) > 0:
            self._file.seek(-1, io.SEEK_END)
            if self._file.read(1) != b"\n":
                self._file.write(b"\n")

    def add(self, row: GatheredRow) -> None:
        """Write one row; SourceError when the disk is full."""
        try:
            self._file.write(msgspec.json.encode(row) + b"\n")
            self._file.flush()
        except OSError as fault:
            raise _unwritable(self.path, fault) from fault


def journal_of(output: str | Path) -> Path:
    """Return the journal's path."""
    return Path(output).with_name(f"{Path(output).name}.unfinished.jsonl")


def earlier_rows(output: str | Path) -> dict[str, GatheredRow]:
    """Return the rows of an earlier gathering by log, those of its journal over those of its table.

    Rows of other columns, older or newer, are left out and so are measured anew. SourceError when the file is
    something else.
    """
    rows: dict[str, GatheredRow] = {}
    if Path(output).exists():
        read = {".csv": _from_csv, ".jsonl": _from_jsonl, ".parquet": _from_parquet}[Path(output).suffix.lower()]
        rows = read(output)
    journal = journal_of(output)
    if journal.exists():
        # its last line is torn where the machine stopped in the middle of it
        lines = read_bytes(journal, _LARGEST).split(b"\n")[:-1]
        rows |= _by_log(_decoded(line) for line in lines)
    return rows


def write_rows(output: str | Path, rows: Iterable[GatheredRow]) -> None:
    """Write the table in the order of the logs' names, then remove the journal."""
    ordered = sorted(rows, key=lambda r: r.log)
    make = {".csv": _as_csv, ".jsonl": _as_jsonl, ".parquet": _as_parquet}[Path(output).suffix.lower()]
    write_new(output, make(ordered), replace=True)
    journal_of(output).unlink(missing_ok=True)


def check_output(output: str | Path) -> None:
    """SourceError for a name of another kind, or one that needs a package that is not there."""
    if Path(output).suffix.lower() not in ENDINGS:
        raise SourceError(ERRORS["output-kind"].format(file=shown(output)))
    if Path(output).suffix.lower() == ".parquet":
        from whorlpulse.sources import results_parquet

        results_parquet.needed()


def _unwritable(path: Path, fault: OSError) -> SourceError:
    return SourceError(f"{shown(path)} cannot be written: {reason(fault)}: check the folder and the room on the disk")


def _not_ours(output: str | Path, why: str) -> SourceError:
    return SourceError(ERRORS["not-ours"].format(file=shown(output), why=why))


def _by_log(rows: Iterable[GatheredRow | None]) -> dict[str, GatheredRow]:
    return {row.log: row for row in rows if row is not None}


def _decoded(line: bytes) -> GatheredRow | None:
    try:
        return msgspec.json.decode(line, type=GatheredRow)
    except msgspec.DecodeError:
        return None


def _as_jsonl(rows: list[GatheredRow]) -> bytes:
    return b"".join(msgspec.json.encode(row) + b"\n" for row in rows)


def _from_jsonl(output: str | Path) -> dict[str, GatheredRow]:
    lines = read_bytes(output, _LARGEST).splitlines()
    try:
        first = json.loads(lines[0]) if lines else {"log": ""}
    except ValueError:
        first = None
    if not isinstance(first, dict) or "log" not in first:
        raise _not_ours(output, "its first line is no such row")
    return _by_log(_decoded(line) for line in lines)


def _as_csv(rows: list[GatheredRow]) -> bytes:
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\r\n")  # RFC 4180, section 2
    table.writerow([c.name for c in COLUMNS])
    table.writerows([_cell(c.name, getattr(row, c.name)) for c in COLUMNS] for row in rows)
    return text.getvalue().encode()


def _cell(name: str, value: Any) -> str:
    if value is None:
        return ""
    if name in _LISTS:
        return json.dumps(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"'{value}" if value.startswith(_FORMULA) else value
    return repr(value)


def _from_csv(output: str | Path) -> dict[str, GatheredRow]:
    try:
        lines = list(csv.reader(io.StringIO(read_bytes(output, _LARGEST).decode(), newline="")))
    except (UnicodeDecodeError, csv.Error) as fault:
        raise _not_ours(output, "it is no such text") from fault
    if lines and "log" not in lines[0]:
        raise _not_ours(output, "its first line has no column log")
    return _by_log(_from_cells(dict(zip(lines[0], line, strict=False))) for line in lines[1:])


def _from_cells(cells: Mapping[str, str]) -> GatheredRow | None:
    values: dict[str, Any] = {}
    for name, cell in cells.items():
        if not cell:
            continue
        if name in _LISTS:
            values[name] = _listed(cell)
        else:
            values[name] = cell[1:] if name in _TEXTS and cell.startswith("'") else cell
    return row_of(values)


def _listed(cell: str) -> Any:
    try:
        return json.loads(cell)
    except ValueError:
        return None  # no list: the row is not taken


def row_of(values: Mapping[str, Any]) -> GatheredRow | None:
    """Return the row with these values, None when they are those of other columns."""
    try:
        return msgspec.convert(values, GatheredRow, strict=False)
    except msgspec.ValidationError:
        return None


def _as_parquet(rows: list[GatheredRow]) -> bytes:
    from whorlpulse.sources import results_parquet

    return results_parquet.encoded(rows)


def _from_parquet(output: str | Path) -> dict[str, GatheredRow]:
    from whorlpulse.sources import results_parquet

    values = results_parquet.decoded(output)
    if values is None:
        raise _not_ours(output, "it is no Parquet file with a column log")
    return _by_log(row_of(v) for v in values)
