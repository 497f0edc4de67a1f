"""What changed between two logs, as a section of the page: the verdict for each whorl and both logs side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.findings.catalogue.compare import ANSWERS, COLUMNS
from whorlpulse.findings.catalogue.page import TITLES
from whorlpulse.views.compare_words import changed, label, note_words, shown_span
from whorlpulse.views.report_parts import Section, Table
from whorlpulse.views.report_words import why_not
from whorlpulse.views.slip_words import is_fault, said

if TYPE_CHECKING:
    from collections.abc import Iterable

    from whorlpulse.findings.comparison import CompareReport, Row, WhorlRows
    from whorlpulse.findings.report import Finding

_M_PER_INCH = 0.0254


def change_section(report: CompareReport) -> Section:
    """Return the section; where the logs can't be compared, why."""
    if report.cannot_say is not None:
        return Section("change", TITLES["change"], (f"{report.capture}: {why_not(report.cannot_say)}.",))
    several = len(report.whorls) > 1
    sentences = [_verdict(w, named=several) for w in report.whorls] or [f"{ANSWERS['no-pair']}."]
    tables = [_table(w.rows, _title(w) if several else "") for w in report.whorls]
    tables.append(_table(report.whole, ""))
    return Section(
        "change",
        TITLES["change"],
        (*sentences, ANSWERS["ends"]),
        tuple(_findings(report)),
        tables=tuple(t for t in tables if t is not None),
        notes=tuple(note_words(n) for n in report.notes),
    )


def _title(whorl: WhorlRows) -> str:
    return whorl.name or shown_span(next(r.first for r in whorl.rows if r.what == "ratio"), alone=True)


def _verdict(whorl: WhorlRows, *, named: bool) -> str:
    slip = next(r for r in whorl.rows if r.what == "slip")
    name = f"{_title(whorl)}: " if named else ""
    if slip.verdict.kind == "none" or slip.difference is None:
        return f"{name}{ANSWERS['slip-is']}: {ANSWERS['none']}."
    key = ("slightly-" if slip.verdict.kind == "slight" else "") + ("better" if slip.verdict.better else "worse")
    points = shown_span(slip.difference, alone=True).lstrip("+-")
    return f"{name}{ANSWERS['slip-is']}: {ANSWERS[key].format(points=points)}."


def _table(rows: Iterable[Row], title: str) -> Table | None:
    lines = []
    for row in rows:
        if row.first is not None and row.second is not None and row.first.value == row.second.value == 0.0:
            continue
        lines.append((label(row).strip(), *_figures(row, 1.0), changed(row)))
        if row.what == "twist":
            lines.append((label(row, "twist-tpi"), *_figures(row, _M_PER_INCH), ""))
    return Table((title, *COLUMNS[1:]), tuple(lines), (1, 2, 3)) if lines else None


def _figures(row: Row, factor: float) -> tuple[str, str, str]:
    return (
        shown_span(row.first, factor, alone=True),
        shown_span(row.second, factor, alone=True),
        shown_span(row.difference, factor, signed=True),
    )


def _findings(report: CompareReport) -> list[str]:
    """Faults of one log only, and of both."""
    first, second = ({f.id: f for f in side.findings if is_fault(f)} for side in (report.first, report.second))
    groups: tuple[tuple[str, list[Finding]], ...] = (
        ("gone", [f for key, f in first.items() if key not in second]),
        ("new", [f for key, f in second.items() if key not in first]),
        ("still", [f for key, f in second.items() if key in first]),
    )
    return [f"{ANSWERS[key]} {said(f).says}" for key, found in groups for f in found]
