"""Figures in a row, as typed: `48,50,47`, `0.80, 0.85 mm`, `3 cm to 6 cm`; all in SI, all complaints UnitsError."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from .. import units
from .toml_tables import printable

_MOST: Final = 1000
_PLAIN: Final = re.compile(r"[0-9]{1,7}(?:\.[0-9]{0,6})?")


@dataclass(frozen=True)
class Row:
    """Readings of one quantity; u_each: standard uncertainty of one; step: the last digit that was written."""

    values: tuple[float, ...]
    u_each: float
    step: float


def span_of(text: str) -> tuple[float, float]:
    """Return both lengths of a span like `3 cm to 6 cm` or `3 to 6 cm`, the shorter first, in metres."""
    parts = re.split(r"\s+to\s+", text.strip())
    if len(parts) != 2:
        raise units.UnitsError(f'"{printable(text)}" is no span of lengths, for example "3 cm to 6 cm".')
    unit = re.search(r"[a-z]+$", parts[1])
    first = f"{parts[0]} {unit[0]}" if unit is not None and re.fullmatch(r"[0-9.]+", parts[0]) else parts[0]
    low, high = units.length(first).m, units.length(parts[1]).m
    if not low < high:
        raise units.UnitsError(f'"{printable(text)}" must go from a shorter to a longer length.')
    return low, high


def turns(text: str) -> Row:
    """Return counted turns, `48,50,47.5`; the finest digit of all is the step of counting."""
    return _plain(text, "turns", "48,50,47")


def angles(text: str) -> Row:
    """Return angles in degrees, `21,23,22`, between 0 and 90."""
    row = _plain(re.sub(r"\s*(deg|degrees|°)\s*$", "", text.strip()), "angles in degrees", "21,23,22")
    if not all(0.0 < a < 90.0 for a in row.values):
        raise units.UnitsError(f'"{printable(text)}": a surface angle lies between 0 and 90 degrees.')
    return row


def lengths(text: str) -> Row:
    """Return lengths in metres, `0.80, 0.85 mm`: the unit of the last stands for all, and so does its ±."""
    parts = text.split(",")
    last = units.length(parts[-1])
    unit = re.search(r"[a-zA-Z]+", parts[-1])
    if len(parts) > _MOST or unit is None:
        raise units.UnitsError(f'"{printable(text)}" has too many figures.')
    with_unit = [p if re.search(r"[a-zA-Z]", p) else f"{p} {unit[0]}" for p in parts[:-1]]
    read = [*(units.length(p) for p in with_unit), last]
    return Row(tuple(r.m for r in read), max(last.m_u, *(r.m_u for r in read)), 0.0)


def _plain(text: str, what: str, example: str) -> Row:
    parts = [p.strip() for p in text.split(",")]
    if len(parts) > _MOST or not all(_PLAIN.fullmatch(p) and float(p) > 0 for p in parts):
        raise units.UnitsError(
            f'"{printable(text)}" must be positive {what} with commas between, for example {example}.'
        )
    step = min(units.last_digit(p) for p in parts)
    return Row(tuple(float(p) for p in parts), units.rectangle_u(step), step)


def span_or_one(text: str) -> tuple[float, float]:
    """Return both lengths of `3 to 7 cm`, or twice the one of `5 cm`, in metres."""
    if re.search(r"\sto\s", text):
        return span_of(text)
    one = units.length(text).m
    return one, one
