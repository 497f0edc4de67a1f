"""The flyer's turns where only the bobbin is sensed and the length is known.

The length L that went in was wound on in W turns, on a package whose square grows in proportion to it:

    W = ∫ dL/(π d) = 2 (d − c)/(π g),   d² = c² + g L

and by these flyer and bobbin differ: F = B + W flyer-led, F = B − W bobbin-led and in double drive (`winding`). That is
1/(π d) turns a metre, a few per cent of the twist, so that a rough diameter is good enough. The package's diameter f at
the end, and with it g = (f² − c²)/L, is the measured one; or comes from count and width (`bobbin_length`); or else is
taken to lie anywhere between that of the core and twice that, f = 1.5 c with u = c/√12. Refused without the core's.
Validated on simulated wheels (tests/tension).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, pi, sqrt

import numpy as np

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.bobbin_length import PACKAGE_DENSITY_RELATIVE_U, NoBobbinLength, coil_room_m2
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.winding import lead_of
from whorlpulse.length import MeasuredLength
from whorlpulse.phase import FlyerCount, shaft_count
from whorlpulse.pulses import BOBBIN, FloatArray
from whorlpulse.rig import Bobbin, Rig

#: A package never is thinner than its core, whatever the gauge says.
_LEAST_GROWTH = 1e-6


@dataclass(frozen=True)
class FlyerByBobbin:
    """count: the flyer's turns, told at the bobbin's passages. wound: turns wound on with the yarn; full: diameter over
    the yarn at the end, in metres.
    """

    count: FlyerCount
    wound: Measured
    full: Measured


def flyer_by_bobbin(
    log: Conditioned, rig: Rig, yarn: MeasuredLength, count_tex: float | None = None
) -> FlyerByBobbin | None:
    """Return the flyer's turns from the bobbin's and the yarn's length; None without two passages of the bobbin.

    Raises NoBobbinLength without the core's diameter.
    """
    bobbin = shaft_count(log, BOBBIN)
    if bobbin is None or not yarn.pieces or yarn.total_m <= 0:
        return None
    if rig.bobbin.core is None:
        raise NoBobbinLength("no-bobbin-core")
    core = rig.bobbin.core
    full = full_diameter(rig.bobbin, yarn.total_m, count_tex)
    at_s = np.array([yarn.pieces[0].start_s, *(p.end_s for p in yarn.pieces)])
    metres = np.concatenate([[0.0], np.cumsum([p.length_m for p in yarn.pieces])])
    wound = wound_with(metres, core.m, full.value)
    sign = 1.0 if lead_of(rig.tension) == "flyer" else -1.0
    turns = bobbin.knot_turns + sign * np.interp(bobbin.knot_s, at_s, wound)
    by_diameter = float(wound[-1]) * hypot(core.m_u, full.u) / (core.m + full.value)
    return FlyerByBobbin(replace(bobbin, knot_turns=turns), Measured(float(wound[-1]), by_diameter), full)


def full_diameter(bobbin: Bobbin, length_m: float, count_tex: float | None) -> Measured:
    """Return the diameter over the yarn in metres after length_m; see the module's head."""
    if bobbin.core is None:
        raise NoBobbinLength("no-bobbin-core")
    core = bobbin.core.m
    if bobbin.full is not None:
        return Measured(max(bobbin.full.m, core * (1.0 + _LEAST_GROWTH)), bobbin.full.m_u)
    if bobbin.width is None or count_tex is None:
        return Measured(1.5 * core, core / sqrt(12.0))
    grown = 4.0 * coil_room_m2(count_tex) / (pi * bobbin.width.m) * length_m
    full = sqrt(core * core + grown)
    relative = hypot(PACKAGE_DENSITY_RELATIVE_U, bobbin.width.m_u / bobbin.width.m)
    return Measured(full, 0.5 * grown / full * relative)


def wound_with(metres: FloatArray, core_m: float, full_m: float) -> FloatArray:
    """Return the turns in which the first `metres` (n,), rising from 0, are wound on a package that ends at full_m."""
    growth = (full_m**2 - core_m**2) / metres[-1]
    turns: FloatArray = 2.0 * (np.sqrt(core_m**2 + growth * metres) - core_m) / (pi * growth)
    return turns
