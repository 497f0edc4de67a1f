"""The ratio that a drive band gives when it does not slip, and the arithmetic of slip.

A band of thickness t runs with its middle at t/2 above the groove on both sides, so the no-slip ratio is
R = (D + t) / (d + t), with D the wheel's and d the whorl's diameter under the band. Leaving t out is no small
matter: a 7 inch cylinder on a 3/4 inch whorl with a 1/8 inch band runs at 8.14, not 9.33.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from ..rig import Length, Rig, Whorl


class RatioWithU(NamedTuple):
    """A ratio, flyer turns per wheel turn, and its standard uncertainty."""

    value: float
    u: float


def band_ratio(wheel: Length, whorl: Length, band: Length) -> RatioWithU:
    """Return the no-slip ratio (D + t) / (d + t) and its standard uncertainty.

    wheel D, whorl d, band t in metres. The band's thickness stands above and below the line, so it is carried
    through once, as one input (GUM 5.1.2, first order): with s = d + t and R the ratio, the sensitivities are
    1/s to D, -R/s to d and (1 - R)/s to t. D, d and t are taken as measured independently.
    Raises ValueError for a diameter that is not positive or a negative thickness.
    Validated against fifteen printed ratios of a machine builder and against GTC (tests/authorities).
    """
    D, d, t = wheel.m, whorl.m, band.m
    if not (D > 0 and d > 0 and t >= 0):
        raise ValueError(f"diameters must be positive and thickness not negative, got D={D}, d={d}, t={t} m")
    s = d + t
    R = (D + t) / s
    return RatioWithU(R, math.hypot(wheel.m_u, R * whorl.m_u, (1.0 - R) * band.m_u) / s)


def no_slip_ratio(rig: Rig, whorl: Whorl) -> RatioWithU | None:
    """Return what the wheel file says of a whorl's ratio without slip, or None when it doesn't say enough.

    A ratio measured earlier wins over the diameters. Its missing uncertainty (ratio_u None) counts as exact,
    like a `Length` without one; the reader of wheel files never leaves it out. From diameters, all three
    measures are needed: without the band's thickness the result would be wrong by a tenth, so there is none.
    """
    if whorl.ratio is not None:
        return RatioWithU(whorl.ratio, whorl.ratio_u or 0.0)
    if rig.wheel_diameter is None or whorl.diameter is None or rig.band_thickness is None:
        return None
    return band_ratio(rig.wheel_diameter, whorl.diameter, rig.band_thickness)


def slip_of(ratio: float, no_slip: float) -> float:
    """Return the slip fraction s = 1 - r / R0 of a measured ratio; negative if r is above R0."""
    if not no_slip > 0:
        raise ValueError(f"the ratio without slip must be positive, got {no_slip}")
    return 1.0 - ratio / no_slip
