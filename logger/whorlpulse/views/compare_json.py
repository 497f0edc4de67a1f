"""The comparison as a JSON object: estimates of both logs and of their difference, and what may be said of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from whorlpulse.views.compare_words import changed, note_words
from whorlpulse.views.finding_words import as_object
from whorlpulse.views.json_object import SCHEMA

if TYPE_CHECKING:
    from collections.abc import Iterable

    from whorlpulse.estimators.difference import Span
    from whorlpulse.findings.comparison import CompareReport, OneSide, Row

#: Keys by what is compared; the key's end names the unit.
_KEYS: Final = {
    "slip": "slip_percent",
    "creep": "creep_percent",
    "bursts-lost": "bursts_percent",
    "ratio": "ratio",
    "burst-rate": "bursts_per_min",
    "lost-rate": "burst_turns_per_min",
    "cadence": "cadence_per_min",
    "steadiness": "steadiness_percent",
    "twist": "twist_tpm",
}
_M_PER_INCH: Final = 0.0254


def json_object(report: CompareReport) -> dict[str, Any]:
    """Return the object. Differences are the second log's value less the first's."""
    return {
        "schema": SCHEMA,
        "capture": report.capture,
        "notes": [note_words(n) for n in _all_notes(report)],
        "before": _side(report.first),
        "after": _side(report.second),
        "whorls": [
            {
                "name": w.name,
                "reference": {**(_estimate(w.reference) or {}), "source": w.source},
                **_rows(w.rows),
                "periodic": [
                    {"per_wheel_turn": r.order, "source": "band" if r.band else "unknown", **_row(r)}
                    for r in w.rows
                    if r.what == "rhythm"
                ],
            }
            for w in report.whorls
        ],
        **_rows(report.whole),
    }


def _all_notes(report: CompareReport) -> list[Any]:
    return [*report.notes, *((report.cannot_say,) if report.cannot_say is not None else ())]


def _side(side: OneSide) -> dict[str, Any]:
    return {
        "capture": side.capture,
        "treadled_min": side.minutes,
        "ratios_alone": [_estimate(s) for s in side.alone],
        "findings": [as_object(f) for f in side.findings],
        "notes": [note_words(n) for n in side.notes],
    }


def _rows(rows: Iterable[Row]) -> dict[str, Any]:
    found = {_KEYS[r.what]: _row(r) for r in rows if r.what in _KEYS}
    twist = next((r for r in rows if r.what == "twist"), None)
    if twist is not None:
        found["twist_tpi"] = _row(twist, _M_PER_INCH)
    return found


def _row(row: Row, factor: float = 1.0) -> dict[str, Any]:
    verdict = row.verdict
    return {
        "before": _estimate(row.first, factor),
        "after": _estimate(row.second, factor),
        "difference": _estimate(row.difference, factor),
        "sure": verdict.kind in ("sure", "slight"),
        "matters": verdict.kind == "sure",
        "change": changed(row),
        "would_have_shown": None if verdict.shows is None else verdict.shows * factor,
        "times_longer_to_show": verdict.longer,
        "to_show": None if verdict.target is None else verdict.target * factor,
    }


def _estimate(s: Span | None, factor: float = 1.0) -> dict[str, float] | None:
    return None if s is None else {"value": s.value * factor, "low": s.low * factor, "high": s.high * factor}
