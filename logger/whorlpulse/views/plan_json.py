"""The plan report as the JSON object of format section 4."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from whorlpulse.units import tpi_from_tpm, twist_factor_from_tpm
from whorlpulse.views.json_object import estimate, head

if TYPE_CHECKING:
    from whorlpulse.estimators.hands import WhorlHands
    from whorlpulse.estimators.plan import WhorlPlan
    from whorlpulse.findings.yarn_reports import PlanReport

_TPI = tpi_from_tpm(1.0)


def json_object(report: PlanReport) -> dict[str, Any]:
    """Return the plan, the yarn's shape, and what each whorl asks for; null where it was not asked or isn't known."""
    plan, body, plied = report.plan, report.shape.body, report.plied
    tex = plan.count_tex
    return head(report.capture, report.notes) | {
        "twist_tpi": plan.twist_tpm * _TPI,
        "twist_tpm": plan.twist_tpm,
        "tolerance_percent": 100.0 * plan.tolerance,
        "direction": plan.direction,
        "plies": plan.plies,
        "ply_twist_tpm": plan.planned_ply_tpm,
        "plied_tex": plan.plied_tex if plan.plies > 1 else None,
        "count_tex": tex,
        "count_source": None if tex is None else "wraps" if plan.count_by_wraps else "plan",
        "twist_factors": None
        if tex is None
        else {kind: twist_factor_from_tpm(plan.twist_tpm, tex, kind) for kind in ("tm", "alpha_m", "alpha_tex")},
        "diameter_m": None if body is None else body.diameter_m,
        "density_kg_m3": None if body is None else body.density_kg_m3,
        "body_source": None if body is None else body.source,
        "helix_angle_deg": report.shape.angle_deg,
        "contraction_percent": 100.0 * report.shape.retraction,
        "cadence_per_min": 60.0 * report.cadence_hz,
        "draw_m": None if report.asked.draw is None else report.asked.draw.m,
        "draft_m": None if report.asked.draft is None else report.asked.draft.m,
        "whorls": [_whorl(w) | _hands(h) for w, h in zip(report.whorls, report.hands, strict=True)],
        "plying": None if plied is None else [_whorl(w) for w in report.plying],
    }


def _whorl(w: WhorlPlan) -> dict[str, Any]:
    return {
        "name": w.name,
        "ratio": w.ratio,
        "draft_per_treadle_m": w.draft_per_treadle_m,
        "metres_per_hour": w.metres_per_hour,
        "hours": w.hours,
    }


def _hands(h: WhorlHands) -> dict[str, Any]:
    return {
        "hand_speed_m_per_s": h.speed_m_s,
        "draw_flyer_turns": h.draw_turns,
        "draw_wheel_turns": h.draw_treadles,
        "draw_s": h.draw_s,
        "suits": h.suits,
        "twist_of_draft_tpi": estimate(h.twist, _TPI),
        "twist_of_draft_tpm": estimate(h.twist),
        "verdict": h.place,
    }
