"""The comparison as text: the verdict, both logs side by side, what was found in either, notes."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from whorlpulse.findings.catalogue.compare import ANSWERS, COLUMNS
from whorlpulse.findings.comparison import LEAST
from whorlpulse.views.compare_json import json_object
from whorlpulse.views.compare_words import changed, label, note_words, shown_span
from whorlpulse.views.figures import cut, decimals_for, plain
from whorlpulse.views.finding_words import is_fault, said
from whorlpulse.views.layout import Page, headline, joined, paragraph, table

if TYPE_CHECKING:
    from whorlpulse.findings.comparison import CompareReport, OneSide, Row, WhorlRows

__all__ = ["json_object", "text"]

_MOST_TIMES = 1000
_M_PER_INCH = 0.0254


def text(report: CompareReport, page: Page) -> str:
    """Return the verdict first, then the rows, findings and notes; for a report with an answer."""
    several = len(report.whorls) > 1
    parts: list[str | None] = []
    for whorl in report.whorls:
        parts += [_verdict(whorl, page, named=several), _detail(whorl, report, page)]
    if not report.whorls:
        parts.append(headline(page, ANSWERS["no-pair"]))
    parts += [_table(w.rows, _title(w) if several else "") for w in report.whorls]
    parts += [_table(report.whole, ""), paragraph(page, ANSWERS["ends"])]
    parts += [_alone(report.first, "before", page), _alone(report.second, "after", page), _findings(report, page)]
    parts.append("\n".join(_bullet(page, note_words(n)) for n in report.notes))
    return joined(*parts)


def _title(whorl: WhorlRows) -> str:
    return whorl.name or shown_span(next(r.first for r in whorl.rows if r.what == "ratio"), alone=True)


def _verdict(whorl: WhorlRows, page: Page, *, named: bool) -> str:
    slip = next(r for r in whorl.rows if r.what == "slip")
    verdict, name = slip.verdict, f"{_title(whorl)}: " if named else ""
    if verdict.kind == "none" or slip.difference is None:
        return headline(page, name + ANSWERS["none"], ANSWERS["slip-is"])
    key = ("slightly-" if verdict.kind == "slight" else "") + ("better" if verdict.better else "worse")
    points = shown_span(slip.difference, alone=True).lstrip("+-")
    return headline(page, name + ANSWERS[key].format(points=points), ANSWERS["slip-is"])


def _detail(whorl: WhorlRows, report: CompareReport, page: Page) -> str | None:
    """Say what these logs could show, and how long they would have to be."""
    verdict = next(r for r in whorl.rows if r.what == "slip").verdict
    if verdict.kind != "none" or verdict.shows is None:
        return None
    says = [ANSWERS["shows"].format(shows=_rough(verdict.shows))]
    if verdict.longer is None or verdict.target is None:
        says.append(ANSWERS["enough"].format(least=_rough(LEAST["slip"])))
    else:
        longer = min(verdict.longer, _MOST_TIMES)
        minutes = longer * max(report.first.minutes, report.second.minutes)
        says.append(ANSWERS["longer"].format(target=_rough(verdict.target), longer=longer, minutes=plain(minutes)))
    parts = [r for r in whorl.rows if r.what in ("creep", "bursts-lost") and r.verdict.kind == "sure"]
    if parts:
        says.insert(0, ANSWERS["parts"].format(parts=", ".join(_part(r) for r in parts)))
    return paragraph(page, " ".join(says))


def _rough(points: float) -> str:
    """Return a half width as one is shown beside a value: with one digit, or two when the first is a 1."""
    return cut(points, decimals_for(points))


def _part(row: Row) -> str:
    points = shown_span(row.difference, alone=True).lstrip("+-")
    return ANSWERS[f"part-{row.what}"].format(changed=changed(row), points=points)


def _table(rows: tuple[Row, ...], title: str) -> str | None:
    if not rows:
        return None
    lines = []
    for row in rows:
        if row.first is not None and row.second is not None and row.first.value == row.second.value == 0.0:
            continue  # no bursts in either log: --json bounds them
        lines.append((label(row), *_levels(row), shown_span(row.difference, signed=True), changed(row)))
        if row.what == "twist":
            inches = _levels(row, _M_PER_INCH)
            lines.append((label(row, "twist-tpi"), *inches, shown_span(row.difference, _M_PER_INCH, signed=True), ""))
    return table((title, *COLUMNS[1:]), lines, left=(0, 4))


def _levels(row: Row, factor: float = 1.0) -> list[str]:
    """Both logs' values, cut where their uncertainty begins; --json has the ends."""
    return [shown_span(s, factor, alone=True) for s in (row.first, row.second)]


def _alone(side: OneSide, which: str, page: Page) -> str | None:
    if not side.alone:
        return None
    ratios = ", ".join(f"{shown_span(s)} : 1" for s in side.alone)
    return paragraph(page, ANSWERS["alone"].format(which=ANSWERS[which], ratios=ratios))


def _findings(report: CompareReport, page: Page) -> str | None:
    """What was found in one log only, and in both; faults, and in the words for the log that has them."""
    first, second = ({f.id: f for f in side.findings if is_fault(f)} for side in (report.first, report.second))
    groups = (
        ("gone", [f for key, f in first.items() if key not in second]),
        ("new", [f for key, f in second.items() if key not in first]),
        ("still", [f for key, f in second.items() if key in first]),
    )
    lines = []
    for key, found in groups:
        if found:
            lines.append(f"  {ANSWERS[key]}")
            lines += [_bullet(page, said(f).says) for f in found]
    return "\n".join(lines) or None


def _bullet(page: Page, words: str) -> str:
    return textwrap.fill(words, page.width - 2, initial_indent="  · ", subsequent_indent="    ")
