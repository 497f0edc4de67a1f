"""The plan report as text: twist first, then the whorls, the hands, the plying, and the notes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.estimators.hands import ratios_that_suit
from whorlpulse.estimators.plying import ply_direction
from whorlpulse.units import INCH_M, count_from_tex, tpi_from_tpm, twist_factor_from_tpm
from whorlpulse.views.figures import given, measured, pair, plain, says
from whorlpulse.views.layout import Page, bullets, headline, joined, paragraph, table
from whorlpulse.views.plan_json import json_object

if TYPE_CHECKING:
    from whorlpulse.estimators.plan import WhorlPlan, YarnPlan
    from whorlpulse.findings.yarn_reports import PlanReport

__all__ = ["draft_of", "json_object", "ratio_of", "text"]

#: Half of a 95 % interval over the standard uncertainty, for uncertainties known from limits.
_K95 = 1.959964
_TPI = tpi_from_tpm(1.0)


def text(report: PlanReport, page: Page) -> str:
    """Return the twist first, then what to do on each whorl, then the notes."""
    plan = report.plan
    tpi, tpm = plain(plan.twist_tpm * _TPI), plain(plan.twist_tpm)
    return joined(
        headline(page, f"{tpi} tpi   {tpm} tpm", _aim(plan)),
        paragraph(page, _yarn(report)),
        _whorls(report) if report.whorls else None,
        paragraph(page, suiting) if (suiting := _suiting(report)) else None,
        _draws(report),
        _twists(report),
        _plying(report) if report.plying else None,
        bullets(page, report.notes),
    )


def _aim(plan: YarnPlan) -> str:
    return says("plan-headline", direction=plan.direction, tolerance=given(100.0 * plan.tolerance))


def _yarn(report: PlanReport) -> str:
    plan, body, angle = report.plan, report.shape.body, report.shape.angle_deg
    said = [says("plan-range", low=plan.low_tpm * _TPI, high=plan.high_tpm * _TPI)]
    if plan.count_tex is None or body is None or angle is None:
        return said[0]
    tex = plan.count_tex
    figures = {"tex": tex, "grist": count_from_tex(tex, "m/100g"), "ypp": count_from_tex(tex, "yd/lb")}
    thick = {"mm": 1000.0 * body.diameter_m, "angle": angle}
    factors = {kind: twist_factor_from_tpm(plan.twist_tpm, tex, kind) for kind in ("tm", "alpha_m", "alpha_tex")}
    return " ".join([says("plan-body", **figures, **thick), says("plan-factors", **factors), *said])


def _whorls(report: PlanReport) -> str:
    with_hours = any(w.hours is not None for w in report.whorls)
    head = ["whorl", "ratio", "draft per treadle", "hands, cm/s", "metres/hour"]
    if with_hours and report.mass_kg is not None:
        head.append(_hours_for(report.mass_kg))
    rows = []
    for whorl, hands in zip(report.whorls, report.hands, strict=True):
        row = [*_first(whorl), plain(100.0 * hands.speed_m_s), _or_dash(whorl.metres_per_hour)]
        rows.append(row + ([_or_dash(whorl.hours)] if with_hours else []))
    return table(head, rows, left=(0,), gap="  ")


def _suiting(report: PlanReport) -> str | None:
    """Say which whorl's draft comes easily, and which ratios would."""
    if report.asked.comfort is None:
        return None
    low, high = (100.0 * x for x in report.asked.comfort)
    least, most = ratios_that_suit(report.plan, report.asked.comfort, report.shape.retraction)
    said = [says("plan-suits", low_cm=given(low), high_cm=given(high), low=least, high=most)]
    for whorl, hands in zip(report.whorls, report.hands, strict=True):
        said.append(says(f"plan-draft-{hands.suits}", whorl=whorl.name or ratio_of(whorl)))
    return " ".join(said)


def _draws(report: PlanReport) -> str | None:
    if report.asked.draw is None or not report.whorls:
        return None
    rows = [
        [w.name or "–", _or_dash(h.draw_turns), _or_dash(h.draw_treadles), _or_dash(h.draw_s)]
        for w, h in zip(report.whorls, report.hands, strict=True)
    ]
    title = says("plan-draws", draw=given(100.0 * report.asked.draw.m))
    return f"  {title}\n" + table(["whorl", "flyer turns", "wheel turns", "seconds"], rows, left=(0,))


def _twists(report: PlanReport) -> str | None:
    if report.asked.draft is None or not report.whorls:
        return None
    rows = [
        [w.name or "–", f"{measured(h.twist, _TPI)} tpi", f"{measured(h.twist)} tpm", says(f"place-{h.place}")]
        for w, h in zip(report.whorls, report.hands, strict=True)
        if h.twist is not None
    ]
    title = says("plan-twist-of-draft", draft=given(100.0 * report.asked.draft.m))
    return f"  {title}\n" + table(["whorl", "twist", "", ""], rows, left=(0, 3))


def _plying(report: PlanReport) -> str:
    with_hours = any(w.hours is not None for w in report.plying)
    head = ["whorl", "ratio", "feed per treadle", "metres/hour"]
    if with_hours and report.mass_kg is not None:
        head.append(_hours_for(report.mass_kg))
    rows = [
        [*_first(w), _or_dash(w.metres_per_hour), *([_or_dash(w.hours)] if with_hours else [])] for w in report.plying
    ]
    title = says("plan-plying", plies=report.plan.plies, direction=ply_direction(report.plan.direction))
    return f"  {title}\n" + table(head, rows, left=(0,))


def _hours_for(mass_kg: float) -> str:
    return f"hours, {given(1000.0 * mass_kg)} g"


def _first(whorl: WhorlPlan) -> list[str]:
    return [whorl.name or "–", ratio_of(whorl), draft_of(whorl)]


def ratio_of(whorl: WhorlPlan) -> str:
    """Return `6.21 : 1`, cut where its uncertainty begins."""
    return f"{pair(whorl.ratio, _K95 * whorl.ratio_u)[0]} : 1"


def draft_of(whorl: WhorlPlan) -> str:
    """Return the draft a treadle in centimetres and inches."""
    draft = whorl.draft_per_treadle_m
    return f"{plain(100.0 * draft)} cm ({plain(draft / INCH_M)} in)"


def _or_dash(value: float | None) -> str:
    return "–" if value is None else plain(value)
