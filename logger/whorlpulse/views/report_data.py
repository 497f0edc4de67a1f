"""The sections of a report page that are about the data: their health, where the ± come from, method, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.findings.catalogue.page import BUDGET, CAUSES, CAUTIONS, HEADS, QUANTITIES, TITLES
from whorlpulse.views import finding_words
from whorlpulse.views.figures import cut, plain
from whorlpulse.views.report_answer import told
from whorlpulse.views.report_figures import Objects
from whorlpulse.views.report_parts import Section, Table, unanswered
from whorlpulse.views.report_tables import channels
from whorlpulse.views.report_words import filled, says

if TYPE_CHECKING:
    from whorlpulse.estimators.measured import Measured
    from whorlpulse.findings.full_report import BudgetLine, FullReport

_MOST_ENTRIES = 24
#: A cause of less than this part of the variance is not worth a word.
_LEAST_SHARE = 0.01


def health_section(report: FullReport, objects: Objects) -> Section:
    """Return what became of the lines, what each sensor sent, and what is known of it."""
    health = report.health
    if health.cannot_say is not None:
        return unanswered("health", health.cannot_say, health.notes, finding_words.note_words)
    lines = health.lines
    figures = {"total": lines.total, "pulses": lines.pulses, "malformed": lines.malformed, "lost": lines.lost}
    lead = [says("lines", **figures, bad_checksum=lines.bad_checksum)]
    if lines.torn_tail:
        lead.append(says("torn"))
    if health.duration_s is not None:
        lead.append(says("duration", seconds=cut(health.duration_s, 1)))
    return Section(
        "health",
        TITLES["health"],
        (" ".join(lead),),
        tables=(channels(report, objects),),
        told=tuple(told(f) for f in health.findings if not finding_words.is_fault(f)),
        notes=tuple(finding_words.note_words(n) for n in health.notes),
    )


def budget_section(report: FullReport) -> Section:
    """Return a line for each answer: its ±, what that comes from, what would halve it."""
    rows = tuple(
        (QUANTITIES[line.quantity], _relative(line, report), _causes(line), BUDGET[line.halve.key])
        for line in report.budget
    )
    if not rows:
        return Section("budget", TITLES["budget"], (says("no-answer"),))
    return Section("budget", TITLES["budget"], (BUDGET["intro"],), tables=(Table(HEADS["budget"], rows, (1,)),))


def _relative(line: BudgetLine, report: FullReport) -> str:
    """The ± in per cent of the answer; that of slip, which may be none, in points."""
    answers: dict[str, Measured | None] = {
        "ratio": report.ratio.ratio,
        "slip": report.slip.found.slip if report.slip.found is not None else None,
        "cadence": report.cadence.mean_hz,
        "twist": report.twist.found.twist if report.twist.found is not None else None,
    }
    m = answers[line.quantity]
    if m is None or m.value == 0.0:
        return "–"
    if line.quantity == "slip":
        return filled(BUDGET, "points", points=plain(100.0 * m.half_width))
    return filled(BUDGET, "share", percent=plain(100.0 * m.half_width / abs(m.value)))


def _causes(line: BudgetLine) -> str:
    return "; ".join(
        f"{CAUSES[cause]}, {filled(BUDGET, 'share', percent=round(100.0 * share))}"
        for cause, share in line.shares
        if share >= _LEAST_SHARE
    )


def method_section(report: FullReport) -> Section:
    """Return how it was measured, with which files, by which version, and what the log says of itself."""
    about = report.about
    files = " ".join(says(n.key, **n.figures) for n in about.files)
    lead = [" ".join(says(key) for key in ("ratio", "slip", "cadence", "twist", "rounding"))]
    lead += [files] if files else []
    lead.append(says("version", version=about.version))
    rows = list(about.entries[:_MOST_ENTRIES])
    if len(about.entries) > _MOST_ENTRIES:
        rows.append(("…", says("metadata-more", more=len(about.entries) - _MOST_ENTRIES)))
    tables = (Table((), tuple(rows), caption=says("metadata")),) if rows else ()
    return Section("method", TITLES["method"], tuple(lead), tables=tables)


def cautions_section() -> Section:
    """Return what to beware of."""
    return Section("cautions", TITLES["cautions"], items=CAUTIONS)
