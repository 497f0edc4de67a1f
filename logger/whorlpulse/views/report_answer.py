"""The head of a report page: the answers as tiles, in the asker's order, and what is worth a look."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final, Literal

from whorlpulse.findings.catalogue.page import TILES, TITLES
from whorlpulse.findings.catalogue.slip import SOURCES
from whorlpulse.views import finding_words, slip_words
from whorlpulse.views.figures import alone, says
from whorlpulse.views.report_figures import Figure, Objects, figure
from whorlpulse.views.report_parts import Section, Tile, Told
from whorlpulse.views.report_words import filled, off_plan_words, sentence, why_not
from whorlpulse.views.report_words import says as page_says

if TYPE_CHECKING:
    from whorlpulse.findings.full_report import FullReport
    from whorlpulse.findings.report import Finding, Note, TwistReport

Asker = Literal["spinner", "repairer", "teacher"]
#: Answers in the order in which each asker wants them.
TILE_ORDER: Final[dict[Asker, tuple[str, ...]]] = {
    "spinner": ("twist", "ratio", "slip", "cadence"),
    "repairer": ("slip", "ratio", "cadence", "twist"),
    "teacher": ("cadence", "ratio", "slip", "twist"),
}
_MOST_WHORLS = 4
_MOST_STRETCHES = 2
_NOTHING = "Nothing."


def tiles(report: FullReport, objects: Objects, asker: Asker) -> tuple[Tile, ...]:
    """Return the answers in the asker's order; those that are known come before those that are not."""
    made = {"twist": _twist, "ratio": _ratio, "slip": _slip, "cadence": _cadence}
    found = sorted((made[key](report, objects) for key in TILE_ORDER[asker]), key=lambda t: not t.figures)
    shown: list[Tile] = []
    for t in found:
        again = not t.figures and any(t.words == before.words for before in found[: len(shown)])
        shown.append(replace(t, words=TILES["unknown-too"]) if again else t)
    return tuple(shown)


def look(report: FullReport) -> Section:
    """Return the faults found in band, sensors and log, each once, the surest first."""
    faults = [f for f in merged(report) if finding_words.is_fault(f)]
    sound = not faults and report.health.cannot_say is None
    sentences = (page_says("none-found"),) if sound else ()
    if report.health.cannot_say is not None:
        sentences = (sentence(report.health.cannot_say),)
    return Section("look", TITLES["look"], sentences, told=tuple(told(f) for f in faults))


def merged(report: FullReport) -> tuple[Finding, ...]:
    """Return the findings of `slip` and `check` together, each id once."""
    found: dict[str, Finding] = {}
    for f in (*report.slip.findings, *report.health.findings):
        found.setdefault(f.id, f)
    return tuple(sorted(found.values(), key=lambda f: -f.confidence))


def told(finding: Finding) -> Told:
    """Return a finding in words."""
    said = finding_words.said(finding)
    sure = page_says("sure", percent=round(100 * finding.confidence)) if finding.confidence < 1.0 else ""
    return Told(said.says, said.evidence, "" if said.do == _NOTHING else said.do, sure, finding_words.is_fault(finding))


def _unknown(key: str, label: str, why: Note | None) -> Tile:
    return Tile(key, label, (), words=filled(TILES, "unknown", why=why_not(why)))


def _twist(report: FullReport, objects: Objects) -> Tile:
    if report.twist.cannot_say is not None:
        return _unknown("twist", TILES["twist"], report.twist.cannot_say)
    return Tile(
        "twist",
        TILES["twist"],
        (figure(objects, "twist", "twist_tpi", after=" tpi"),),
        (figure(objects, "twist", "twist_tpm", after=" tpm"),),
        _verdict(report.twist),
    )


def _verdict(twist: TwistReport) -> str:
    """Return the verdict, and where a yarn that is on plan as a whole is not."""
    if twist.verdict is None:
        return ""
    if twist.verdict != "on-plan" or not twist.off_plan:
        return says(f"verdict-{twist.verdict}")
    named = "; ".join(off_plan_words(s) for s in twist.off_plan[:_MOST_STRETCHES])
    more = "; …" if len(twist.off_plan) > _MOST_STRETCHES else ""
    return filled(TILES, "in-part", verdict=says("verdict-on-plan-in-part"), stretches=named + more)


def _ratio(report: FullReport, objects: Objects) -> Tile:
    found = report.ratio
    if found.cannot_say is not None or found.wheel_turns is None:
        return _unknown("ratio", TILES["ratio"], found.cannot_say)
    key = "turns" if len(found.runs) == 1 else "turns-runs"
    words = filled(TILES, key, wheel=round(found.wheel_turns), runs=len(found.runs))
    if len(found.whorls) > 1:
        several = tuple(
            figure(objects, "ratio", f"whorls.{i}.ratio", "value", after=" : 1")
            for i in range(min(len(found.whorls), _MOST_WHORLS))
        )
        return Tile("ratio", f"{len(found.whorls)} {TILES['ratio-several']}", several, (), words)
    small: tuple[str | Figure, ...] = (found.whorls[0].name,) if found.whorls and found.whorls[0].name else ()
    return Tile("ratio", TILES["ratio"], (figure(objects, "ratio", "ratio", after=" : 1"),), small, words)


def _slip(report: FullReport, objects: Objects) -> Tile:
    found = report.slip.found
    if report.slip.cannot_say is not None or found is None or found.reference is None or found.slip is None:
        return _unknown("slip", TILES["slip"], report.slip.cannot_say)
    reference = found.reference
    source = SOURCES["wheel-file-diameters" if reference.by_diameters else reference.source]
    if reference.source == "this-capture":
        words = slip_words.answer("slip-own")
    elif abs(found.slip.value) <= found.slip.half_width:
        words = slip_words.answer("slip-undecided")
    else:
        words = "" if found.slip.value > 0 else slip_words.answer("slip-above")
    against = filled(TILES, "against", reference=alone(reference.ratio), source=source)
    small = (against,) if len(found.whorls) == 1 else ()
    return Tile("slip", TILES["slip"], (figure(objects, "slip", "slip_percent", after=" %"),), small, words)


def _cadence(report: FullReport, objects: Objects) -> Tile:
    found = report.cadence.found
    if report.cadence.cannot_say is not None or found is None:
        return _unknown("cadence", TILES["cadence"], report.cadence.cannot_say)
    words = ""
    if found.steadiness is not None:
        words = filled(TILES, "steady", percent=alone(found.steadiness.overall, 100.0))
    return Tile(
        "cadence", TILES["cadence"], (figure(objects, "cadence", "cadence_per_min", after=" a minute"),), (), words
    )
