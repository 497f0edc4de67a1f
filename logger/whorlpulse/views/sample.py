"""The sample report as text and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from whorlpulse.units import tpi_from_tpm
from whorlpulse.views.figures import given, measured, says
from whorlpulse.views.finding_text import finding_text
from whorlpulse.views.finding_words import as_object
from whorlpulse.views.json_object import estimate, head
from whorlpulse.views.layout import Page, bullets, headline, joined, paragraph

if TYPE_CHECKING:
    from whorlpulse.estimators.measured import Measured
    from whorlpulse.findings.yarn_reports import SampleReport

_TPI = tpi_from_tpm(1.0)


def text(report: SampleReport, page: Page) -> str:
    """Return the yarn's twist first, then log and plan against it, what could explain a difference, and the notes."""
    return joined(
        _headline(report, page),
        paragraph(page, found) if (found := _found(report)) else None,
        paragraph(page, met) if (met := _met(report)) else None,
        paragraph(page, plan) if (plan := _plan(report)) else None,
        f"  {says('sample-explain')}" if report.findings else None,
        *(finding_text(f, page) for f in report.findings),
        bullets(page, report.notes),
    )


def _headline(report: SampleReport, page: Page) -> str:
    assert report.twist is not None
    counted = report.counted
    if counted is None:
        beside = says("sample-by-angle")
    else:
        gauge = given(100.0 * report.gauge.m) if report.gauge is not None else ""
        key = "sample-counted" if counted.has_interval else "sample-one"
        beside = says(key, samples=len(counted.each_tpm), gauge=gauge)
    return headline(page, f"{measured(report.twist, _TPI)} tpi   {measured(report.twist)} tpm", beside)


def _found(report: SampleReport) -> str:
    said = []
    counted, diameter = report.counted, report.diameter_m
    if counted is not None and counted.cv is not None:
        said.append(says("sample-spread", percent=100.0 * counted.cv))
    if report.by_angle is not None and report.angle_deg is not None and diameter is not None:
        figures = {"angle": report.angle_deg, "mm": diameter.times(1000.0), "tpm": report.by_angle}
        said.append(says("sample-angle", **figures, tpi=report.by_angle.times(_TPI)))
    elif diameter is not None and report.twist is not None:
        angle = math.degrees(math.atan(math.pi * diameter.value * report.twist.value))
        said.append(says("sample-angle-of-count", mm=diameter.times(1000.0), angle=angle))
    if report.shortening is not None and report.twist is not None:
        drafted = report.twist.value * (1.0 - report.shortening.value)
        said.append(says("sample-shortening", percent=report.shortening.times(100.0), tpi=drafted * _TPI))
    return " ".join(said)


def _met(report: SampleReport) -> str | None:
    log, met = report.log_twist, report.agreement
    if log is None or met is None:
        return None
    apart, margin = met.difference, 100.0 * met.margin / log.value
    percent = apart.times(100.0 / log.value)
    figures = {"tpi": log.times(_TPI), "tpm": log, "apart_tpi": apart.times(_TPI), "percent": percent}
    return f"{says(f'sample-{met.verdict}', margin=given(margin))} {says('sample-log', **figures)}"


def _plan(report: SampleReport) -> str | None:
    plan = report.plan
    if plan is None or report.place is None:
        return None
    figures = {"tpi": plan.twist_tpm * _TPI, "low": plan.low_tpm * _TPI, "high": plan.high_tpm * _TPI}
    return says("sample-plan", **figures, place=says(f"place-{report.place}"))


def json_object(report: SampleReport) -> dict[str, Any]:
    """Return the yarn's twist and what it was compared with; null for what was not given or can't be said."""
    counted, met = report.counted, report.agreement
    sure = counted is None or counted.has_interval
    return head(report.capture, report.notes) | {
        "twist_tpi": _twist(report.twist, _TPI, sure=sure),
        "twist_tpm": _twist(report.twist, 1.0, sure=sure),
        "samples": 0 if counted is None else len(counted.each_tpm),
        "samples_tpm": [] if counted is None else list(counted.each_tpm),
        "cv_percent": None if counted is None or counted.cv is None else 100.0 * counted.cv,
        "gauge_m": None if report.gauge is None else report.gauge.m,
        "surface_angle_deg": estimate(report.angle_deg),
        "diameter_m": estimate(report.diameter_m),
        "twist_by_angle_tpm": estimate(report.by_angle),
        "contraction_percent": estimate(report.shortening, 100.0),
        "log_twist_tpm": estimate(report.log_twist),
        "yarn_less_log_tpm": None if met is None else estimate(met.difference),
        "margin_percent": None if report.margin is None else 100.0 * report.margin,
        "agreement": None if met is None else met.verdict,
        "plan_tpi": None if report.plan is None else report.plan.twist_tpm * _TPI,
        "verdict": report.place,
        "findings": [as_object(f) for f in report.findings],
    }


def _twist(m: Measured | None, factor: float, *, sure: bool) -> dict[str, float | None] | None:
    """Return an estimate; its ends are null where nothing is known of them."""
    if m is None:
        return None
    if not sure:
        return {"value": m.value * factor, "low": None, "high": None}
    low, high = m.low * factor, m.high * factor
    return {"value": m.value * factor, "low": low, "high": high}
