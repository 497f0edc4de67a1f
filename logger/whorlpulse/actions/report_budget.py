"""Where the ± of each answer comes from, by parts of its variance, and what would halve it (GUM 5.1.2)."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.findings.full_report import BudgetLine, Cause
from whorlpulse.findings.report import note

if TYPE_CHECKING:
    from whorlpulse.findings.cadence_report import CadenceReport
    from whorlpulse.findings.report import RatioReport, TwistReport
    from whorlpulse.findings.slip_report import SlipReport


def budget(ratio: RatioReport, slip: SlipReport, cadence: CadenceReport, twist: TwistReport) -> tuple[BudgetLine, ...]:
    """Return a line for each question that was answered."""
    lines = (_ratio(ratio), _slip(slip), _cadence(cadence), _twist(twist))
    return tuple(line for line in lines if line is not None)


def _ratio(report: RatioReport) -> BudgetLine | None:
    """What was made by the shafts is known but for timing at a run's two ends; the rest is in the slip's budget."""
    if report.ratio is None:
        return None
    return BudgetLine("ratio", (("timing", 1.0),), note("halve-ratio"))


def _slip(report: SlipReport) -> BudgetLine | None:
    """S = 1 − r/R₀: the parts of r's variance and of R₀'s."""
    found = report.found
    if found is None or found.slip is None or found.reference is None or found.slip.u <= 0.0:
        return None
    r0 = found.reference.ratio
    of_reference = min(((1.0 - found.slip.value) * r0.u / r0.value / found.slip.u) ** 2, 1.0)
    if found.reference.source == "this-capture":
        halve = note("halve-slip-own")
    else:
        halve = note("halve-slip-reference" if of_reference >= 0.5 else "halve-slip-log")
    return BudgetLine("slip", _shares(("reference", of_reference), ("log", 1.0 - of_reference)), halve)


def _cadence(report: CadenceReport) -> BudgetLine | None:
    if report.mean_hz is None or report.clock is None or report.mean_hz.u <= 0.0:
        return None
    clock = report.clock.rate
    of_clock = min((clock.u / clock.value * report.mean_hz.value / report.mean_hz.u) ** 2, 1.0)
    halve = note("halve-feet")
    if of_clock >= 0.5:
        halve = note("halve-sync" if report.clock.source == "sync" else "halve-clock")
    return BudgetLine("cadence", _shares(("clock", of_clock), ("feet", 1.0 - of_clock)), halve)


def _twist(report: TwistReport) -> BudgetLine | None:
    found = report.found
    if found is None or report.cannot_say is not None:
        return None
    of_length = found.length_share
    halve = note("halve-length" if of_length >= 0.5 else "halve-turns")
    return BudgetLine("twist", _shares(("length", of_length), ("turns", 1.0 - of_length)), halve)


def _shares(*parts: tuple[Cause, float]) -> tuple[tuple[Cause, float], ...]:
    return tuple(sorted(parts, key=lambda part: -part[1]))
