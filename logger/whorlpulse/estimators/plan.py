"""The yarn plan: twist, helix angle, draft per treadle, hours, and plying; all in SI (tex is g/km).

Twist is counted per length of the twisted yarn, as ISO 2061 counts it. The plan's twist and count are those
of the singles; a plied yarn follows from them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from .band_ratio import RatioWithU

Direction = Literal["S", "Z"]
Stated = Literal["twist", "twist_factor", "both"]

#: Peirce's specific volume of cotton yarn, 1.1 cm3/g, taken for any yarn that is not said to be otherwise.
PEIRCE_DENSITY_KG_M3: Final = 1000.0 / 1.1
#: Ply twist over singles twist for a balanced two-ply: common practice, no source.
BALANCED_PLY: Final = 2.0 / 3.0
_KG_M_OF_TEX: Final = 1e-6


@dataclass(frozen=True)
class YarnPlan:
    """What the yarn shall be. Twist in turns per metre, count in tex, tolerance as a fraction of the twist.

    direction: of the singles, S or Z as in ISO 2. stated: whether the plan gave the twist, a twist factor and
    a count, or both. Singles are meant for twist and count; plies says how many make the yarn.
    """

    twist_tpm: float
    count_tex: float | None = None
    tolerance: float = 0.1
    direction: Direction = "Z"
    plies: int = 1
    stated: Stated = "twist"

    @property
    def alpha_tex(self) -> float | None:
        """The twist factor in use, turns per metre times the square root of tex; None without a count."""
        return None if self.count_tex is None else self.twist_tpm * math.sqrt(self.count_tex)

    @property
    def low_tpm(self) -> float:
        """The least twist that is on plan, turns per metre."""
        return self.twist_tpm * (1.0 - self.tolerance)

    @property
    def high_tpm(self) -> float:
        """The most twist that is on plan, turns per metre."""
        return self.twist_tpm * (1.0 + self.tolerance)


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


def yarn_diameter_m(tex: float, density_kg_m3: float = PEIRCE_DENSITY_KG_M3) -> float:
    """Return the diameter of a round yarn, d = sqrt(4 m / (pi rho)), m = tex 1e-6 kg/m.

    The density is the yarn's, air included; the default is Peirce's 1.1 cm3/g for cotton, in metric
    d / mm = 0.0374 sqrt(tex). Lofty woollen yarns are much thicker for their count.
    """
    _positive(tex=tex, density_kg_m3=density_kg_m3)
    return math.sqrt(4.0 * tex * _KG_M_OF_TEX / (math.pi * density_kg_m3))


def surface_helix_angle_deg(twist_tpm: float, tex: float, density_kg_m3: float = PEIRCE_DENSITY_KG_M3) -> float:
    """Return the angle of the surface fibres to the yarn's axis in degrees: tan alpha = pi d T.

    T turns per metre, d from count and density (`yarn_diameter_m`). Assumes a round yarn and a true helix.
    """
    _positive(twist_tpm=twist_tpm)
    return math.degrees(math.atan(math.pi * yarn_diameter_m(tex, density_kg_m3) * twist_tpm))


def retraction(helix_angle_deg: float) -> float:
    """Return the part of the drafted length that twisting takes away, R = tan^2(alpha / 2).

    The ideal helix of constant volume; Hearle, Grosberg & Backer, Structural Mechanics of Fibers, Yarns, and
    Fabrics (1969), from memory. The contraction factor (drafted over twisted length) is 1/(1 - R).
    """
    if not 0.0 <= helix_angle_deg < 90.0:
        raise ValueError(f"a helix angle lies between 0 and 90 degrees, got {helix_angle_deg}")
    return math.tan(math.radians(helix_angle_deg) / 2.0) ** 2


def drafted_length(twisted: float, retraction: float) -> float:
    """Return the drafted (untwisted) length L0 = Lt / (1 - R) of a twisted length Lt.

    The same factor turns a count before twisting into tex after it, tex2 = tex1 / (1 - R), and a twist per
    drafted length into one per twisted length.
    """
    if not 0.0 <= retraction < 1.0:
        raise ValueError(f"a retraction is a fraction from 0 to below 1, got {retraction}")
    return twisted / (1.0 - retraction)


def length_of_mass_m(mass_kg: float, tex: float) -> float:
    """Return the length in metres of `mass_kg` of a yarn of `tex`: mass over mass per length."""
    _positive(mass_kg=mass_kg, tex=tex)
    return mass_kg / (tex * _KG_M_OF_TEX)


def mass_of_length_kg(length_m: float, tex: float) -> float:
    """Return the mass in kilograms of `length_m` of a yarn of `tex`."""
    _positive(length_m=length_m, tex=tex)
    return length_m * tex * _KG_M_OF_TEX


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


def ply_twist_tpm(singles_tpm: float, fraction: float = BALANCED_PLY) -> float:
    """Return the ply twist for singles of `singles_tpm`, to be put in the other way (`ply_direction`).

    About two thirds leaves a balanced two-ply: common practice, no source.
    """
    _positive(singles_tpm=singles_tpm, fraction=fraction)
    return singles_tpm * fraction


def ply_direction(singles: Direction) -> Direction:
    """Return the direction opposite to the singles'."""
    return "S" if singles == "Z" else "Z"


def residual_twist_tpm(singles_tpm: float, ply_tpm: float) -> float:
    """Return what is left of the singles' twist after plying the other way: each ply turn takes one out.

    Per twisted-ply length and before contraction; negative when plying took more than there was.
    """
    return singles_tpm - ply_tpm


def resultant_count_tex(plies_tex: Sequence[float]) -> float:
    """Return the count of plies twisted together, the sum of their tex, before contraction by plying."""
    if not plies_tex:
        raise ValueError("a plied yarn needs at least one ply")
    for tex in plies_tex:
        _positive(tex=tex)
    return math.fsum(plies_tex)


def _positive(**named: float | None) -> None:
    for name, value in named.items():
        if value is not None and not (value > 0 and math.isfinite(value)):
            raise ValueError(f"{name} must be a positive number, got {value}")
