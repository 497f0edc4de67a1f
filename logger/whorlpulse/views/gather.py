"""Many logs: from one log's reports to its row of the table, and what became of the whole folder as text."""

from __future__ import annotations

import textwrap
from math import isfinite
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import msgspec

from whorlpulse.findings.catalogue.gather import SAYS
from whorlpulse.findings.gathered import GatheredRow, GatherReport, State
from whorlpulse.views import cadence, cadence_words, check, finding_words, ratio, slip, slip_words, twist
from whorlpulse.views.figures import words
from whorlpulse.views.json_object import SCHEMA
from whorlpulse.views.layout import Page, headline, joined, paragraph

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from whorlpulse.findings.cadence_report import CadenceReport
    from whorlpulse.findings.health import HealthReport
    from whorlpulse.findings.report import Note, RatioReport, TwistReport
    from whorlpulse.findings.slip_report import SlipReport


#: States of rows that have no measurement, in the order in which they are told.
_AMISS: Final[tuple[State, ...]] = ("cannot-say", "unreadable", "failed")


class Answers(NamedTuple):
    """One log's reports, of every question that a folder is asked."""

    ratio: RatioReport
    slip: SlipReport
    cadence: CadenceReport
    twist: TwistReport


def with_health(row: GatheredRow, health: HealthReport) -> GatheredRow:
    """Return the row with what became of the log's lines, and the faults found in it by id."""
    lines = check.json_object(health)["lines"]
    return msgspec.structs.replace(
        row,
        duration_s=_figure(health.duration_s),
        lines=lines["total"],
        malformed_lines=lines["malformed"],
        bad_checksum_lines=lines["bad_checksum"],
        lost_lines=lines["lost"],
        torn_tail=lines["torn_tail"],
        findings=tuple(f.id for f in health.findings if finding_words.is_fault(f)),
    )


def with_answers(row: GatheredRow, answers: Answers) -> GatheredRow:
    """Return the row with every answer, figures as in the commands' JSON, or the reason why there is none."""
    said = {**_ratio(answers.ratio), **_slip(answers.slip), **_cadence(answers.cadence), **_twist(answers.twist)}
    faults = (f.id for f in answers.slip.findings if finding_words.is_fault(f))
    answered = any(report.cannot_say is None for report in answers)
    return msgspec.structs.replace(
        row,
        state="measured" if answered else "cannot-say",
        why=None if answered else said["ratio_why"],
        findings=tuple(dict.fromkeys((*row.findings, *faults))),
        **said,
    )


def _ratio(report: RatioReport) -> dict[str, Any]:
    found = ratio.json_object(report)
    return {
        **_interval("ratio", found["ratio"]),
        "wheel_turns": _figure(report.wheel_turns),
        "flyer_turns": _figure(report.flyer_turns),
        "ratio_why": _why(report.cannot_say, words),
        "whorl_ratios": tuple(w["ratio"]["value"] for w in found["whorls"]),
        "whorl_names": tuple(w["name"] for w in found["whorls"]),
    }


def _slip(report: SlipReport) -> dict[str, Any]:
    found = slip.json_object(report)
    said = {"slip_why": _why(report.cannot_say, slip_words.note_words)}
    if report.cannot_say is not None:
        return said
    return {
        **said,
        **_interval("slip", found["slip_percent"], "_percent"),
        **_interval("creep", found["creep_percent"], "_percent"),
        "slip_reference": found["reference"]["source"] if found["reference"] is not None else None,
        "bursts": len(found["events"]),
    }


def _cadence(report: CadenceReport) -> dict[str, Any]:
    found = cadence.json_object(report)
    return {
        **_interval("cadence", found["cadence_per_min"], "_per_min"),
        "cadence_why": _why(report.cannot_say, cadence_words.note_words),
        "steadiness_percent": _figure(found["steadiness_percent"]),
    }


def _twist(report: TwistReport) -> dict[str, Any]:
    found = twist.json_object(report)
    tpi = found["twist_tpi"]
    judged = report.verdict is not None
    return {
        **_interval("twist", found["twist_tpm"], "_tpm"),
        "twist_tpi": _figure(tpi["value"]) if tpi is not None else None,
        "twist_why": _why(report.cannot_say, words),
        "length_m": _figure(found["length_m"]),
        "length_source": found["length_source"],
        "spread_percent": _figure(found["spread_percent"]),
        "plan_tpi": _figure(found["plan_tpi"]),
        "verdict": found["verdict"],
        "off_plan_m": sum(s.to_m - s.from_m for s in report.off_plan) if judged else None,
    }


def _interval(name: str, estimate: Mapping[str, float] | None, unit: str = "") -> dict[str, float | None]:
    ends = {"": "value", "_low": "low", "_high": "high"}
    return {f"{name}{end}{unit}": _figure(estimate[key]) if estimate else None for end, key in ends.items()}


def _figure(value: float | None) -> float | None:
    """A figure for a table: whatever is no number there is not known."""
    return float(value) if value is not None and isfinite(value) else None


def _why(why: Note | None, said: Callable[[Note], str]) -> str | None:
    return None if why is None else said(why)


def text(report: GatherReport, page: Page) -> str:
    """Return how many logs were measured, where that is written, and which could not be and why."""
    rows, measured = sum(report.counts.values()), report.counts.get("measured", 0)
    written = SAYS["written"].format(output=report.output, fresh=report.measured, known=report.known)
    amiss = [SAYS[state].format(count=count) for state in _AMISS if (count := report.counts.get(state, 0))]
    named = [SAYS["each"].format(log=row.log, why=row.why) for row in report.worst]
    more = sum(report.counts.get(state, 0) for state in _AMISS) - len(named)
    besides = [SAYS["gone"].format(count=report.gone)] if report.gone else []
    if report.shut:
        besides.append(SAYS["shut"].format(count=len(report.shut), first=report.shut[0]))
    return joined(
        headline(page, SAYS["answer"].format(measured=measured, rows=rows)),
        paragraph(page, SAYS["answer-stopped"].format(left=report.left)) if report.left else None,
        paragraph(page, written),
        "\n".join(paragraph(page, line) for line in amiss),
        "\n".join(_item(page, line) for line in named + ([SAYS["more"].format(more=more)] if more and named else [])),
        "\n".join(paragraph(page, line) for line in besides),
    )


def _item(page: Page, line: str) -> str:
    return textwrap.fill(line, page.width - 2, initial_indent="  · ", subsequent_indent="    ")


def json_object(report: GatherReport) -> dict[str, Any]:
    """Return the same as figures."""
    return {
        "schema": SCHEMA,
        "capture": report.output,
        "notes": [],
        "rows": sum(report.counts.values()),
        "states": dict(report.counts),
        "measured_now": report.measured,
        "known_before": report.known,
        "left": report.left,
        "gone": report.gone,
        "shut_folders": list(report.shut),
    }
