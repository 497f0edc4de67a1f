"""The sections of a report page: each question's sentences, pictures, tables and notes, and the asker's order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from whorlpulse.findings.catalogue.page import TITLES
from whorlpulse.findings.catalogue.slip import SOURCES
from whorlpulse.units import tpi_from_tpm
from whorlpulse.views import cadence_words, finding_words, slip_words
from whorlpulse.views.charts.all import chart
from whorlpulse.views.figures import cut, decimals_for, given, measured, plain, says, words
from whorlpulse.views.report_answer import Asker, told
from whorlpulse.views.report_data import budget_section, cautions_section, health_section, method_section
from whorlpulse.views.report_figures import Objects
from whorlpulse.views.report_parts import Section, unanswered
from whorlpulse.views.report_tables import bursts, parts, periodic, runs, whorls
from whorlpulse.views.report_words import off_plan_words, sentence
from whorlpulse.views.report_words import says as page_says

if TYPE_CHECKING:
    from whorlpulse.estimators.cadence import Steadiness
    from whorlpulse.findings.full_report import FullReport
    from whorlpulse.findings.report import Note

_TPI = tpi_from_tpm(1.0)
#: Sections in the order in which each asker reads them; those that all read alike follow.
ORDER: Final[dict[Asker, tuple[str, ...]]] = {
    "spinner": ("twist", "whorls", "ratio", "cadence", "slip", "health"),
    "repairer": ("slip", "ratio", "health", "whorls", "cadence", "twist"),
    "teacher": ("cadence", "ratio", "whorls", "slip", "twist", "health"),
}
_MOST_STALLS = 12
Maker = Callable[["FullReport", Objects], Section]


def sections(report: FullReport, objects: Objects, asker: Asker) -> list[Section]:
    """Return all sections in the asker's order; a note that several questions have stands in the first one only."""
    makers: dict[str, Maker] = {
        "twist": _twist,
        "whorls": _whorls,
        "ratio": _ratio,
        "slip": _slip,
        "cadence": _cadence,
        "health": health_section,
    }
    seen: set[str] = set()
    made = []
    for key in ORDER[asker]:
        section = makers[key](report, objects)
        fresh = tuple(dict.fromkeys(note for note in section.notes if note not in seen))
        lead = tuple(page_says("not-known-too") if words in seen else words for words in section.sentences)
        seen.update((*fresh, *lead))
        made.append(replace(section, notes=fresh, sentences=lead))
    return [*made, budget_section(report), method_section(report), cautions_section()]


def _limited(limit: Note | None, notes: tuple[Note, ...]) -> tuple[Note, ...]:
    return notes if limit is None else (limit, *notes)


def _twist(report: FullReport, objects: Objects) -> Section:
    twist = report.twist
    found, plan = twist.found, twist.plan
    if twist.cannot_say is not None or found is None:
        return unanswered("twist", twist.cannot_say, twist.notes, words)
    source = says(f"length-{found.length_source}")
    lead = [says("twist-amount", turns=round(found.flyer_turns), length=found.length, source=source)]
    if found.spread is not None:
        lead.append(says("twist-spread", percent=100.0 * found.spread))
    if plan is not None:
        low, high = plan.low_tpm * _TPI, plan.high_tpm * _TPI
        lead.append(says("twist-plan", tpi=plan.twist_tpm * _TPI, tpm=plan.twist_tpm, low=low, high=high))
        if len(found.along) > 1 and not twist.off_plan:
            lead.append(says("all-on-plan"))
    items = tuple(off_plan_words(s) for s in twist.off_plan)
    return Section(
        "twist",
        TITLES["twist"],
        (" ".join(lead), *((says("off-plan"),) if items else ())),
        items,
        (chart("twist", report),),
        notes=tuple(words(n) for n in _limited(twist.limit, twist.notes)),
    )


def _whorls(report: FullReport, objects: Objects) -> Section:
    table, plan = whorls(report, objects), report.plan
    lead: list[str] = []
    if plan is not None:
        yarn = plan.plan
        figures = {
            "tpi": yarn.twist_tpm * _TPI,
            "tpm": yarn.twist_tpm,
            "direction": yarn.direction,
            "tolerance": given(100.0 * yarn.tolerance),
            "low": yarn.low_tpm * _TPI,
            "high": yarn.high_tpm * _TPI,
        }
        lead.append(page_says("plan-is", **figures))
        if table is not None:
            lead.append(page_says("whorls-plan", tpi=yarn.twist_tpm * _TPI, cadence=plain(60.0 * plan.cadence_hz)))
    elif table is not None:
        lead.append(page_says("whorls-no-plan"))
    if table is None:
        lead.insert(0, sentence(report.ratio.cannot_say))
    notes = tuple(words(n) for n in plan.notes) if plan is not None else ()
    return Section("whorls", TITLES["whorls"], (" ".join(lead),), tables=(table,) if table else (), notes=notes)


def _ratio(report: FullReport, objects: Objects) -> Section:
    found = report.ratio
    if found.cannot_say is not None or found.flyer_turns is None or found.wheel_turns is None:
        return unanswered("ratio", found.cannot_say, found.notes, words)
    turns = says(
        "ratio-turns-one" if len(found.runs) == 1 else "ratio-turns",
        flyer=round(found.flyer_turns),
        wheel=round(found.wheel_turns),
        runs=len(found.runs),
    )
    return Section(
        "ratio",
        TITLES["ratio"],
        (turns,),
        charts=(chart("ratio", report),),
        tables=(runs(report, objects),) if len(found.runs) > 1 else (),
        notes=tuple(words(n) for n in _limited(found.limit, found.notes)),
    )


def _slip(report: FullReport, objects: Objects) -> Section:
    slip = report.slip
    if slip.cannot_say is not None or slip.found is None:
        return unanswered("slip", slip.cannot_say, slip.notes, slip_words.note_words)
    lead = []
    for w in slip.found.whorls:
        source = SOURCES["wheel-file-diameters" if w.reference.by_diameters else w.reference.source]
        name = f" ({w.reference.name})" if w.reference.name else ""
        reference = w.reference.ratio
        lead.append(slip_words.answer("slip-reference", ratio=w.ratio, reference=reference, source=source + name))
    names = ("loss",) if slip.found.unseen else ("loss", "rhythm", "angle")
    tables = (parts(report, objects), bursts(report, objects), periodic(report, objects))
    return Section(
        "slip",
        TITLES["slip"],
        (" ".join(lead),),
        charts=tuple(chart(name, report) for name in names),
        tables=tuple(t for t in tables if t is not None),
        told=tuple(told(f) for f in slip.findings if not finding_words.is_fault(f)),
        notes=tuple(slip_words.note_words(n) for n in slip.notes),
    )


def _cadence(report: FullReport, objects: Objects) -> Section:
    cadence, answer = report.cadence, cadence_words.answer
    found = cadence.found
    if cadence.cannot_say is not None or found is None:
        return unanswered("cadence", cadence.cannot_say, cadence.notes, cadence_words.note_words)
    lead = [answer("turns", turns=round(found.wheel_turns), seconds=found.treadled_s, runs=len(found.runs))]
    if found.steadiness is not None:
        lead.append(_scatter(found.steadiness))
    if cadence.stalls:
        lead.append(answer("stalls"))
    items = [
        answer(
            "stall-back" if s.ran_back else "stall", start=cut(s.start_s, 1), took=s.end_s - s.start_s, usual=s.usual_s
        )
        for s in cadence.stalls[:_MOST_STALLS]
    ]
    if len(cadence.stalls) > _MOST_STALLS:
        items.append(answer("stalls-more", more=len(cadence.stalls) - _MOST_STALLS))
    return Section(
        "cadence",
        TITLES["cadence"],
        (" ".join(lead),),
        tuple(items),
        (chart("cadence", report), chart("turn", report)),
        notes=tuple(cadence_words.note_words(n) for n in _limited(cadence.limit, cadence.notes)),
    )


def _scatter(found: Steadiness) -> str:
    half = found.overall.half_width
    decimals = max(decimals_for(100.0 * half), 0) if half > 0 else 2
    return cadence_words.answer(
        "scatter",
        overall=measured(found.overall, 100.0),
        drift=cut(100.0 * found.drift, decimals),
        quick=measured(found.turn_to_turn, 100.0),
    )
