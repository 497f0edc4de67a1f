"""The JSON object that `--json` prints: plain values, null for what is not known, ASCII only."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from math import isfinite
from typing import TYPE_CHECKING, Any, Final

from whorlpulse.views.figures import words

if TYPE_CHECKING:
    from whorlpulse.estimators.measured import Measured
    from whorlpulse.findings.report import Note

#: Grows when a key changes its meaning.
SCHEMA: Final = 2


def estimate(m: Measured | None, factor: float = 1.0) -> dict[str, float] | None:
    """Return an estimate: the value and the ends of its 95 % interval, in another unit by `factor`."""
    if m is None:
        return None
    low, high = sorted((m.low * factor, m.high * factor))
    return {"value": m.value * factor, "low": low, "high": high}


def head(capture: str, notes: Iterable[Note]) -> dict[str, Any]:
    """Return the keys that every object has."""
    return {"schema": SCHEMA, "capture": capture, "notes": [words(n) for n in notes]}


def as_json(value: Mapping[str, Any]) -> str:
    """Return the object as text; a number that is none (NaN, infinite) becomes null."""
    return json.dumps(_plain(value), indent=2, ensure_ascii=True, allow_nan=False)


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(part) for part in value]
    if isinstance(value, float):
        return float(value) if isfinite(value) else None
    return value
