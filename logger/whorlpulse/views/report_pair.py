"""What changed between two logs, as sections of the page: the verdict, both logs' figures, and both logs' pictures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from whorlpulse.findings.catalogue.compare import ANSWERS, COLUMNS
from whorlpulse.findings.catalogue.page import CHARTS, SHOWS, TITLES
from whorlpulse.views.charts.all import chart
from whorlpulse.views.compare_words import changed, label, note_words, shown_span
from whorlpulse.views.finding_words import is_fault, said
from whorlpulse.views.report_answer import Asker
from whorlpulse.views.report_parts import Section, SideBySide, Table
from whorlpulse.views.report_words import why_not

if TYPE_CHECKING:
    from collections.abc import Iterable

    from whorlpulse.findings.comparison import CompareReport, Row, WhorlRows
    from whorlpulse.findings.full_report import PairReport
    from whorlpulse.findings.report import Finding

_M_PER_INCH = 0.0254
#: The pictures in the order in which each asker wants them.
_ORDER: Final[dict[Asker, tuple[str, ...]]] = {
    "spinner": ("twist", "ratio", "loss", "rhythm", "angle", "cadence", "turn"),
    "repairer": ("loss", "rhythm", "angle", "ratio", "cadence", "turn", "twist"),
    "teacher": ("cadence", "turn", "ratio", "loss", "rhythm", "angle", "twist"),
}


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


def both_section(pair: PairReport, asker: Asker) -> Section:
    """Return each picture of both logs, one under the other, on the same scales."""
    sides = tuple(
        SideBySide(CHARTS[name], chart(name, pair.first, pair.second), chart(name, pair.second, pair.first))
        for name in _ORDER[asker]
    )
    return Section("both", TITLES["both"], (SHOWS["same-scales"],), sides=sides)


def _title(whorl: WhorlRows) -> str:
    return whorl.name or shown_span(next(r.first for r in whorl.rows if r.what == "ratio"), alone=True)


def _verdict(whorl: WhorlRows, *, named: bool) -> str:
    slip = next(r for r in whorl.rows if r.what == "slip")
    name = f"{_title(whorl)}: {ANSWERS['slip-is']}" if named else _capital(ANSWERS["slip-is"])
    if slip.verdict.kind == "none" or slip.difference is None:
        return f"{name}: {ANSWERS['none']}."
    key = ("slightly-" if slip.verdict.kind == "slight" else "") + ("better" if slip.verdict.better else "worse")
    points = shown_span(slip.difference, alone=True).lstrip("+-")
    return f"{name}: {ANSWERS[key].format(points=points)}."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


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
