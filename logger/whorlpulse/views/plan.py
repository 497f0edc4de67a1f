"""The plan report as text and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from whorlpulse.units import INCH_M, tpi_from_tpm
from whorlpulse.views.figures import given, pair, plain, says
from whorlpulse.views.json_object import head
from whorlpulse.views.layout import Page, bullets, headline, joined, paragraph, table

if TYPE_CHECKING:
    from whorlpulse.estimators.plan import WhorlPlan, YarnPlan
    from whorlpulse.findings.report import PlanReport

#: Half of a 95 % interval over the standard uncertainty, for uncertainties known from limits.
_K95 = 1.959964


def text(report: PlanReport, page: Page) -> str:
    """Return the twist first, then what to do on each whorl, then the notes."""
    plan = report.plan
    tpi, tpm = plain(tpi_from_tpm(plan.twist_tpm)), plain(plan.twist_tpm)
    return joined(
        headline(page, f"{tpi} tpi   {tpm} tpm", _aim(plan)),
        paragraph(page, _yarn(plan, report.helix_angle_deg)),
        _whorls(report) if report.whorls else None,
        bullets(page, report.notes),
    )


def _aim(plan: YarnPlan) -> str:
    return says("plan-headline", direction=plan.direction, tolerance=given(100.0 * plan.tolerance))


def _yarn(plan: YarnPlan, helix_angle_deg: float | None) -> str:
    said = says("plan-range", low=tpi_from_tpm(plan.low_tpm), high=tpi_from_tpm(plan.high_tpm))
    if plan.count_tex is None or helix_angle_deg is None:
        return said
    return f"{says('plan-yarn', tex=plan.count_tex, angle=helix_angle_deg)} {said}"


def _whorls(report: PlanReport) -> str:
    with_hours = any(w.hours is not None for w in report.whorls)
    head = ["whorl", "ratio", "draft per treadle", "metres/hour"]
    if with_hours and report.mass_kg is not None:
        head.append(f"hours for {given(1000.0 * report.mass_kg)} g")
    rows = [_row(w, with_hours) for w in report.whorls]
    return table(head, rows, left=(0,))


def _row(whorl: WhorlPlan, with_hours: bool) -> list[str]:
    ratio, _ = pair(whorl.ratio, _K95 * whorl.ratio_u)
    draft = whorl.draft_per_treadle_m
    cells = [
        whorl.name or "–",
        f"{ratio} : 1",
        f"{plain(100.0 * draft)} cm ({plain(draft / INCH_M)} in)",
        "–" if whorl.metres_per_hour is None else plain(whorl.metres_per_hour),
    ]
    if with_hours:
        cells.append("–" if whorl.hours is None else plain(whorl.hours))
    return cells


def json_object(report: PlanReport) -> dict[str, Any]:
    """Return the object of format section 4."""
    plan = report.plan
    return head(report.capture, report.notes) | {
        "twist_tpi": tpi_from_tpm(plan.twist_tpm),
        "twist_tpm": plan.twist_tpm,
        "tolerance_percent": 100.0 * plan.tolerance,
        "direction": plan.direction,
        "plies": plan.plies,
        "ply_twist_tpm": report.ply_tpm,
        "count_tex": plan.count_tex,
        "helix_angle_deg": report.helix_angle_deg,
        "cadence_per_min": 60.0 * report.cadence_hz,
        "whorls": [
            {
                "name": w.name,
                "ratio": w.ratio,
                "draft_per_treadle_m": w.draft_per_treadle_m,
                "metres_per_hour": w.metres_per_hour,
                "hours": w.hours,
            }
            for w in report.whorls
        ],
    }
