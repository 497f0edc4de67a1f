"""The yarn as a round, evenly filled thread: thickness, surface helix, shortening; all in SI (tex is g/km).

Three figures hang together in any such yarn, mass per length m (tex), diameter d and density rho with its air:

    m = rho pi d² / 4

so two of them give the third. A spinner knows m from weighing, d from wraps round a ruler, and rho hardly ever; what
is taken for it is named in `Body.source`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

Direction = Literal["S", "Z"]
BodySource = Literal["wraps", "fibre", "cotton"]

#: Peirce's specific volume of cotton yarn, 1.1 cm3/g, taken for any yarn that is not said to be otherwise.
PEIRCE_DENSITY_KG_M3: Final = 1000.0 / 1.1
#: Density of fibres at 65 % relative humidity, kg/m3: Morton & Hearle, Physical Properties of Textile Fibres, table
#: 5.1 (read); flax: Handbook of Properties of Textile and Technical Fibres, table 1.1 (read).
FIBRE_DENSITY_KG_M3: Final = {
    "wool": 1310.0,
    "cotton": 1520.0,
    "silk": 1340.0,
    "flax": 1530.0,
    "viscose": 1490.0,
    "nylon": 1140.0,
    "polyester": 1390.0,
    "acrylic": 1190.0,
}
#: Share of a yarn's section that is fibre: what Peirce's cotton yarn has of cotton fibre, 909 of 1520 kg/m3.
PEIRCE_PACKING: Final = PEIRCE_DENSITY_KG_M3 / FIBRE_DENSITY_KG_M3["cotton"]
#: Yards a pound of a hand-spun yarn over the square of its wraps per inch: common practice, no source, 4 to 8 by fibre
#: and preparation. Their geometric middle makes both ends equally far in thickness and in mass.
GRIST_PER_SQUARE: Final = (4.0, math.sqrt(32.0), 8.0)

_KG_M_OF_TEX: Final = 1e-6
_TEX_OF_ONE_YD_LB: Final = 0.45359237 / 0.9144 / _KG_M_OF_TEX
_INCH_M: Final = 0.0254


@dataclass(frozen=True)
class StatedBody:
    """What a plan says of the yarn's body, None where it says nothing.

    wraps_per_m: turns of the yarn side by side on a ruler, a metre. fibre_kg_m3: density of the fibre; packing: share
    of the yarn's section that is fibre, 0 to 1.
    """

    wraps_per_m: float | None = None
    fibre_kg_m3: float | None = None
    packing: float | None = None

    @property
    def density_kg_m3(self) -> float | None:
        """The yarn's density with its air, as far as fibre or packing were stated."""
        if self.fibre_kg_m3 is None and self.packing is None:
            return None
        fibre = FIBRE_DENSITY_KG_M3["wool"] if self.fibre_kg_m3 is None else self.fibre_kg_m3
        return fibre * (PEIRCE_PACKING if self.packing is None else self.packing)


@dataclass(frozen=True)
class Body:
    """A yarn's thickness and density, and what they rest on.

    source: `wraps` (diameter is one over the wraps), `fibre` (density stated), `cotton` (Peirce's density taken).
    """

    diameter_m: float
    density_kg_m3: float
    source: BodySource


def body_of(tex: float | None, stated: StatedBody) -> Body | None:
    """Return the yarn's body from its count and what is stated, None when neither count nor wraps are known.

    Wraps are a measure and win over a density; they are too few where the turns don't touch and too many where they
    press, so the diameter is an approximation. With wraps and a count the density follows.
    """
    density = stated.density_kg_m3
    if stated.wraps_per_m is not None:
        _positive(wraps_per_m=stated.wraps_per_m)
        diameter = 1.0 / stated.wraps_per_m
        tex = tex_of_wraps(stated.wraps_per_m, density)[1] if tex is None else tex
        return Body(diameter, yarn_density_kg_m3(tex, diameter), "wraps")
    if tex is None:
        return None
    used = PEIRCE_DENSITY_KG_M3 if density is None else density
    return Body(yarn_diameter_m(tex, used), used, "cotton" if density is None else "fibre")


def tex_of_wraps(wraps_per_m: float, density_kg_m3: float | None = None) -> tuple[float, float, float]:
    """Return low, likely and high tex of a yarn from its wraps per metre.

    With a density all three are m = rho pi d² / 4, d = 1/wraps. Without one the spinner's rule is used, yards a pound
    = k wpi² with k from 4 to 8 (common practice, no source): an approximation good to a factor of 1.4 either way.
    """
    _positive(wraps_per_m=wraps_per_m, density_kg_m3=density_kg_m3)
    if density_kg_m3 is not None:
        tex = density_kg_m3 * math.pi / (4.0 * wraps_per_m**2) / _KG_M_OF_TEX
        return tex, tex, tex
    most, likely, least = (_TEX_OF_ONE_YD_LB / (k * (wraps_per_m * _INCH_M) ** 2) for k in GRIST_PER_SQUARE)
    return least, likely, most


def yarn_diameter_m(tex: float, density_kg_m3: float = PEIRCE_DENSITY_KG_M3) -> float:
    """Return the diameter of a round yarn, d = sqrt(4 m / (pi rho)), m = tex 1e-6 kg/m.

    The density is the yarn's, air included; the default is Peirce's 1.1 cm3/g for cotton, in metric
    d / mm = 0.0374 sqrt(tex). Lofty woollen yarns are much thicker for their count.
    """
    _positive(tex=tex, density_kg_m3=density_kg_m3)
    return math.sqrt(4.0 * tex * _KG_M_OF_TEX / (math.pi * density_kg_m3))


def yarn_density_kg_m3(tex: float, diameter_m: float) -> float:
    """Return the density of a round yarn with its air, rho = 4 m / (pi d²)."""
    _positive(tex=tex, diameter_m=diameter_m)
    return 4.0 * tex * _KG_M_OF_TEX / (math.pi * diameter_m**2)


def helix_angle_deg(twist_tpm: float, diameter_m: float) -> float:
    """Return the angle to the axis of what lies on a circle of diameter_m: tan alpha = pi d T.

    T turns per metre of twisted yarn. With the yarn's own diameter it is the angle of the surface fibres; a fibre
    nearer the axis lies steeper. Assumes a round yarn and a true helix.
    """
    _positive(twist_tpm=twist_tpm, diameter_m=diameter_m)
    return math.degrees(math.atan(math.pi * diameter_m * twist_tpm))


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


def _positive(**named: float | None) -> None:
    for name, value in named.items():
        if value is not None and not (value > 0 and math.isfinite(value)):
            raise ValueError(f"{name} must be a positive number, got {value}")
