"""TOML written by hand: read into typed tables, and every complaint one sentence with file, table and key."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final, TypeVar

import msgspec

_LARGEST_FILE: Final = 256 * 1024
LONGEST_NAME: Final = 80
#: How msgspec's names of types read to someone who wrote TOML.
_TYPE_WORDS: Final = {
    "str": "text in quotes",
    "int": "a whole number",
    "float": "a number",
    "decimal": "a number",
    "bool": "true or false",
    "array": "a list",
    "object": "a table",
}
#: With which option a file is given that has such a table: for a plan given as a wheel, and the other way.
_GIVEN_WITH: Final = {"yarn": "--plan", "wheel": "--wheel", "whorl": "--wheel"}
Table = TypeVar("Table")


def read_tables(data: bytes, file: str, shape: type[Table], error: type[ValueError]) -> Table:
    """Return TOML bytes as `shape`, fractions as written (Decimal) inside its tables; `error` if not."""
    if len(data) > _LARGEST_FILE:
        raise error(f"{file}: {len(data)} bytes are too many for a file of this kind; is it the right file?")
    try:
        text = data.decode("utf-8-sig")
        raw = tomllib.loads(text, parse_float=Decimal)
    except UnicodeDecodeError as bad:
        raise error(f"{file}: is not text in UTF-8 (byte {bad.start + 1}); is it the right file?") from None
    except (ValueError, ArithmeticError, RecursionError) as bad:
        what = "nested too deep" if isinstance(bad, RecursionError) else printable(str(bad))
        raise error(f"{file}: is not valid TOML: {what}.") from None
    return into(raw, shape, f"{file}:", error)


def into(raw: Mapping[str, Any], shape: type[Table], at: str, error: type[ValueError]) -> Table:
    """Return a TOML table as `shape`; for a wrong type or unknown key `error`, with the key after `at`."""
    try:
        return msgspec.convert(raw, shape)
    except msgspec.ValidationError as bad:
        raise error(f"{at} {_complaint(str(bad), shape)}") from None


def _complaint(message: str, shape: type[Any]) -> str:
    unknown = re.match(r"Object contains unknown field `(.*)`", message, re.S)
    if unknown:
        known = ", ".join(entry.name for entry in msgspec.structs.fields(shape))
        hint = f"; a file with it is given with {_GIVEN_WITH[unknown[1]]}" if unknown[1] in _GIVEN_WITH else ""
        return f'has an unknown key "{printable(unknown[1])}"; known here: {known}{hint}.'
    wrong = re.match(r"Expected `(\w+)[^`]*`, got `(\w+)`(?: - at `\$\.?([^`]*)`)?", message)
    if wrong:
        wanted, path = _TYPE_WORDS.get(wrong[1], wrong[1]), (wrong[3] or "").replace("[...]", "")
        got = "a number with a point" if wrong[2] in ("float", "decimal") else _TYPE_WORDS.get(wrong[2], wrong[2])
        return f"{path}: expected {wanted}, found {got}."
    return f"{printable(message)}."


def printable(text: str) -> str:
    """Return text fit for one line of an error: at most 80 characters, none of them a control character."""
    cut = text if len(text) <= LONGEST_NAME else text[: LONGEST_NAME - 3] + "..."
    return "".join(c if c.isprintable() else "?" for c in cut)
