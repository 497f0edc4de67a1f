"""From a yarn plan and the whorls to the plan report."""

from __future__ import annotations

from collections.abc import Sequence

from whorlpulse.estimators.band_ratio import RatioWithU, no_slip_ratio
from whorlpulse.estimators.plan import YarnPlan, per_whorl, ply_direction, ply_twist_tpm, surface_helix_angle_deg
from whorlpulse.findings.report import Note, PlanReport, note
from whorlpulse.rig import Rig

#: The balance of two thirds is known for two plies only.
_BALANCED_PLIES = 2
_TPI = 0.0254


def reckon_plan(
    capture: str,
    plan: YarnPlan,
    rig: Rig,
    ratios: Sequence[RatioWithU],
    cadence_hz: float,
    mass_kg: float | None,
    notes: Sequence[Note] = (),
) -> PlanReport:
    """Return the plan report for the whorls of `rig` and further `ratios`, at cadence_hz treadle strokes a second."""
    said = list(notes)
    known: list[tuple[str | None, RatioWithU]] = []
    for i, whorl in enumerate(rig.whorls):
        ratio = no_slip_ratio(rig, whorl)
        if ratio is None:
            said.append(note("whorl-without-ratio", name=whorl.name or str(i + 1)))
        else:
            known.append((whorl.name, ratio))
    known += [(None, ratio) for ratio in ratios]
    angle = None if plan.count_tex is None else surface_helix_angle_deg(plan.twist_tpm, plan.count_tex)
    said.append(note("no-count") if angle is None else note("helix"))
    said.append(note("pace", cadence=f"{60.0 * cadence_hz:g}") if known else note("no-whorls"))
    ply = ply_twist_tpm(plan.twist_tpm) if plan.plies == _BALANCED_PLIES else None
    if plan.plies > 1:
        said.append(note("plies", plies=plan.plies))
    if ply is not None:
        said.append(note("ply-twist", direction=ply_direction(plan.direction), tpi=ply * _TPI, tpm=ply))
    return PlanReport(
        capture,
        plan,
        angle,
        cadence_hz,
        mass_kg,
        per_whorl(plan, known, 60.0 * cadence_hz, mass_kg=mass_kg),
        ply,
        tuple(said),
    )
