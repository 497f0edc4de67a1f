"""From a yarn plan, the whorls and the hands to the plan report."""

from __future__ import annotations

import math
from collections.abc import Sequence

from whorlpulse.estimators.band_ratio import RatioWithU, no_slip_ratio
from whorlpulse.estimators.hands import Hands, per_hand
from whorlpulse.estimators.plan import Shape, YarnPlan, per_whorl, plied_plan, shape_of
from whorlpulse.estimators.plying import BALANCED_PLY, ply_direction
from whorlpulse.estimators.yarn_geometry import tex_of_wraps
from whorlpulse.findings.report import Note, note
from whorlpulse.findings.yarn_reports import PlanReport
from whorlpulse.rig import Rig

_TPI = 0.0254
#: The angle that is usual for a use, from and to, in degrees: common practice, no source.
_USUAL = ((10.0, "soft"), (15.0, "knitting"), (25.0, "hard-wearing"), (35.0, ""))

Known = tuple[str | None, RatioWithU]


def reckon_plan(
    capture: str,
    plan: YarnPlan,
    rig: Rig,
    ratios: Sequence[RatioWithU],
    cadence_hz: float,
    mass_kg: float | None,
    notes: Sequence[Note] = (),
    hands: Hands | None = None,
) -> PlanReport:
    """Return the plan report for the whorls of `rig` and further `ratios`, at cadence_hz treadle strokes a second."""
    hands = Hands() if hands is None else hands
    said = list(notes)
    known = [*whorls_of(rig, said), *((None, ratio) for ratio in ratios)]
    shape, plied = shape_of(plan), plied_plan(plan)
    a_minute = 60.0 * cadence_hz
    whorls = per_whorl(plan, known, a_minute, mass_kg=mass_kg, retraction=shape.retraction)
    said += [*_about_yarn(plan, shape), *_about_plying(plan)]
    said.append(note("pace", cadence=f"{a_minute:g}") if known else note("no-whorls"))
    if hands.draft is not None and known:
        said.append(note("plan-reverse"))
    return PlanReport(
        capture=capture,
        plan=plan,
        shape=shape,
        cadence_hz=cadence_hz,
        mass_kg=mass_kg,
        whorls=whorls,
        hands=per_hand(plan, whorls, cadence_hz, hands, shape.retraction),
        asked=hands,
        plied=plied,
        plying=()
        if plied is None
        else per_whorl(plied, known, a_minute, mass_kg=mass_kg, retraction=plan.ply_contraction),
        notes=tuple(said),
    )


def whorls_of(rig: Rig, said: list[Note]) -> list[Known]:
    """Return the rig's whorls with their ratios without slip; what has none is told in `said`."""
    known: list[Known] = []
    for i, whorl in enumerate(rig.whorls):
        ratio = no_slip_ratio(rig, whorl)
        if ratio is None:
            said.append(note("whorl-without-ratio", name=whorl.name or str(i + 1)))
        else:
            known.append((whorl.name, ratio))
    return known


def _about_yarn(plan: YarnPlan, shape: Shape) -> list[Note]:
    """Return what thickness, angle and count rest on."""
    if shape.body is None or shape.angle_deg is None:
        return [note("no-count")]
    said = []
    if plan.count_by_wraps and plan.body.wraps_per_m is not None:
        low, _, high = tex_of_wraps(plan.body.wraps_per_m, plan.body.density_kg_m3)
        said.append(note("plan-count-by-wraps", low=low, high=high) if low < high else note("plan-count-by-density"))
    said.append(note(f"plan-body-{shape.body.source}", density=shape.body.density_kg_m3 / 1000.0))
    use = next((word for limit, word in reversed(_USUAL) if shape.angle_deg >= limit), "")
    said += [note(f"plan-angle-{use}")] if use else []
    if plan.contraction == "helix":
        said.append(note("plan-helix-contraction", percent=100.0 * shape.retraction))
    elif shape.retraction > 0:
        said.append(note("plan-contraction", percent=100.0 * shape.retraction))
    return said


def _about_plying(plan: YarnPlan) -> list[Note]:
    if plan.plies == 1:
        return []
    said = [note("plan-of-plied" if plan.of_plied else "plies", plies=plan.plies)]
    ply = plan.planned_ply_tpm
    if ply is None:
        return [*said, note("plan-no-ply-rule")]
    share = 100.0 * ply / plan.twist_tpm
    by_rule = plan.ply_tpm is None or (plan.of_plied and math.isclose(ply, plan.twist_tpm * BALANCED_PLY))
    key = "ply-twist" if by_rule else "plan-ply-asked"
    said.append(note(key, direction=ply_direction(plan.direction), tpi=ply * _TPI, tpm=ply, percent=share))
    return said
