"""The yarn plan: twist, draft per treadle, pace and hours on each whorl; all in SI (tex is g/km).

Twist is counted per length of the twisted yarn, as ISO 2061 counts it. The plan's twist and count are those
of the singles; what a plan says of the finished, plied yarn is turned into singles by its reader (`plying`).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from .band_ratio import RatioWithU
from .plying import BALANCED_PLY, resultant_count_tex
from .yarn_geometry import Body, Direction, StatedBody, body_of, drafted_length, helix_angle_deg, retraction

Stated = Literal["twist", "twist_factor", "both"]
NOTHING_STATED: Final = StatedBody()
_KG_M_OF_TEX: Final = 1e-6


@dataclass(frozen=True)
class YarnPlan:
    """What the yarn shall be. Twist in turns per metre, count in tex, tolerance as a fraction of the twist.

    direction: of the singles, S or Z as in ISO 2. stated: whether the plan gave the twist, a twist factor and
    a count, or both. Twist, count and body are of the singles; plies says how many make the yarn.
    of_plied: the plan spoke of the finished yarn, and the singles follow from it. count_by_wraps: the count is only an
    approximation from wraps. ply_tpm: the ply twist asked for, if any. contraction: part of the drafted length that
    spinning takes away, or `helix` for what the ideal helix takes; ply_contraction: what plying takes.
    """

    twist_tpm: float
    count_tex: float | None = None
    tolerance: float = 0.1
    direction: Direction = "Z"
    plies: int = 1
    stated: Stated = "twist"
    body: StatedBody = NOTHING_STATED
    of_plied: bool = False
    count_by_wraps: bool = False
    ply_tpm: float | None = None
    contraction: float | Literal["helix"] = 0.0
    ply_contraction: float = 0.0

    @property
    def low_tpm(self) -> float:
        """The least twist that is on plan, turns per metre."""
        return self.twist_tpm * (1.0 - self.tolerance)

    @property
    def high_tpm(self) -> float:
        """The most twist that is on plan, turns per metre."""
        return self.twist_tpm * (1.0 + self.tolerance)

    @property
    def planned_ply_tpm(self) -> float | None:
        """The ply twist: as asked for, else two thirds for two plies; None for singles and where no rule is known."""
        if self.plies == 1:
            return None
        if self.ply_tpm is None and self.plies == 2:
            return self.twist_tpm * BALANCED_PLY
        return self.ply_tpm

    @property
    def plied_tex(self) -> float | None:
        """The count of the finished yarn; None without a count."""
        if self.count_tex is None:
            return None
        return resultant_count_tex([self.count_tex] * self.plies, self.ply_contraction if self.plies > 1 else 0.0)


@dataclass(frozen=True)
class Shape:
    """The planned singles as a thread: body and surface angle (None when the thickness isn't known), retraction."""

    body: Body | None
    angle_deg: float | None
    retraction: float


@dataclass(frozen=True)
class WhorlPlan:
    """One whorl's part of the plan; what depends on cadence, count or mass is None without it.

    draft_per_treadle_m: yarn to draw out for one treadle stroke (one wheel turn), _u its standard uncertainty
    from the ratio's. metres_per_hour: of twisted yarn. hours: for the mass asked for.
    """

    name: str | None
    ratio: float
    ratio_u: float
    draft_per_treadle_m: float
    draft_per_treadle_m_u: float
    metres_per_hour: float | None
    hours: float | None


def shape_of(plan: YarnPlan) -> Shape:
    """Return the planned singles' thickness, surface angle and retraction.

    A contraction by the ideal helix needs the thickness: ValueError without a count or wraps.
    """
    body = body_of(plan.count_tex, plan.body)
    angle = None if body is None else helix_angle_deg(plan.twist_tpm, body.diameter_m)
    if plan.contraction != "helix":
        return Shape(body, angle, plan.contraction)
    if angle is None:
        raise ValueError("contraction by the helix needs the yarn's count or its wraps")
    return Shape(body, angle, retraction(angle))


def plied_plan(plan: YarnPlan) -> YarnPlan | None:
    """Return the plan of plying as one of its own: ply twist, the finished count; None for singles or no ply twist."""
    ply_tpm = plan.planned_ply_tpm
    if ply_tpm is None:
        return None
    return YarnPlan(ply_tpm, plan.plied_tex, plan.tolerance, contraction=plan.ply_contraction)


def length_of_mass_m(mass_kg: float, tex: float) -> float:
    """Return the length in metres of `mass_kg` of a yarn of `tex`: mass over mass per length."""
    _positive(mass_kg=mass_kg, tex=tex)
    return mass_kg / (tex * _KG_M_OF_TEX)


def per_whorl(
    plan: YarnPlan,
    ratios: Iterable[tuple[str | None, RatioWithU]],
    cadence_per_min: float | None = None,
    *,
    mass_kg: float | None = None,
    retraction: float = 0.0,
) -> tuple[WhorlPlan, ...]:
    """Return, for each named ratio, the draft per treadle, the pace at a cadence, the hours for a mass.

    A treadle stroke is one turn of the wheel and puts r turns of twist into the yarn, enough for r / T metres
    of twisted yarn; with a retraction R it is drafted from r / (T (1 - R)). At c strokes a minute that is
    60 c r / T metres of twisted yarn an hour, while the feet go: joins and rests are not in it.
    cadence_per_min, mass_kg: None leaves out what needs them. Raises ValueError for what is not positive.
    """
    _positive(twist_tpm=plan.twist_tpm, cadence_per_min=cadence_per_min, mass_kg=mass_kg)
    rows = []
    for name, (r, r_u) in ratios:
        _positive(ratio=r)
        twisted_m = r / plan.twist_tpm
        draft_m = drafted_length(twisted_m, retraction)
        pace = None if cadence_per_min is None else 60.0 * cadence_per_min * twisted_m
        hours = None
        if pace is not None and mass_kg is not None and plan.count_tex is not None:
            hours = length_of_mass_m(mass_kg, plan.count_tex) / pace
        rows.append(WhorlPlan(name, r, r_u, draft_m, draft_m * r_u / r, pace, hours))
    return tuple(rows)


def _positive(**named: float | None) -> None:
    for name, value in named.items():
        if value is not None and not (value > 0 and math.isfinite(value)):
            raise ValueError(f"{name} must be a positive number, got {value}")
