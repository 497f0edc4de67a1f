"""A gathering's rows to and from Parquet, by pyarrow, which only those install who want it."""

from __future__ import annotations

import io
from importlib import import_module
from pathlib import Path
from typing import Any, Final

import msgspec

from whorlpulse.findings.catalogue.gather import ERRORS
from whorlpulse.findings.gathered import COLUMNS, Column, GatheredRow
from whorlpulse.sources.files import SourceError

#: A column has the same type whatever the rows hold, so that tables can be put together.
_TYPES: Final[dict[type, str]] = {bool: "bool_", int: "int64", float: "float64", str: "string"}


def needed() -> tuple[Any, Any]:
    """Return pyarrow and its parquet module; SourceError, saying what to install, when it is not there."""
    try:
        return import_module("pyarrow"), import_module("pyarrow.parquet")
    except ImportError:
        raise SourceError(
            ERRORS["extra"].format(what="a .parquet", package="pyarrow", extra="parquet") + ", or write a .csv"
        ) from None


def encoded(rows: list[GatheredRow]) -> bytes:
    """Return the bytes of a Parquet file with these rows."""
    arrow, parquet = needed()
    schema = arrow.schema([(column.name, _type(arrow, column)) for column in COLUMNS])
    table = arrow.Table.from_pylist([msgspec.to_builtins(row) for row in rows], schema=schema)
    file = io.BytesIO()
    parquet.write_table(table, file)
    return file.getvalue()


def decoded(path: str | Path) -> list[dict[str, Any]] | None:
    """Return the values of a Parquet file's rows, those that are null left out; None when it is none with logs."""
    arrow, parquet = needed()
    try:
        with open(path, "rb") as file:
            table = parquet.read_table(file)
    except (arrow.ArrowInvalid, OSError):
        return None
    if "log" not in table.column_names:
        return None
    return [{key: value for key, value in row.items() if value is not None} for row in table.to_pylist()]


def _type(arrow: Any, column: Column) -> Any:
    one = getattr(arrow, _TYPES[column.kind])()
    return arrow.list_(one) if column.listed else one
