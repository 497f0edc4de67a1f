"""Length of yarn from the turns wound on and the bobbin's diameters.

Each turn of the bobbin against the flyer lays one coil, π d long. Coils of one yarn all take the same room, so the
cross-section of the package grows by as much with every coil, and its diameter in proportion to the coils:

    d(n) = c + k n,      L(n) = π (c n + k n²/2)

c: the core's diameter. The growth k comes from
* both diameters, c and f after N coils in all: k = (f − c)/N, so L(N) = π N (c + f)/2 whatever the layers did;
* or the yarn's count and the width w over which it is spread: k = 2 a/w, with a the room of one coil's cross-section,
  a = mass per length over density of the package.

The package is taken as a cylinder of whole layers, which is given 0.3 % (a layer begun shortened simulated yarns by as
much); a hill at each hook, measured at its top, makes it too long. Uncertainties by GUM 5.1.2: c, f, w and a
independent, and N's own. Refused without the core's diameter, or with nothing that tells the
growth. Validated on simulated bobbins that fill in uneven layers (tests/tension).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, pi, sqrt
from typing import Final, Literal

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, Piece
from whorlpulse.conditioning.counted import Counted
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.wound_turns import WoundTurns, wound_turns_of
from whorlpulse.length import MeasuredLength, count_from, length_of_passages
from whorlpulse.pulses import FloatArray
from whorlpulse.rig import Bobbin, Length, Rig

#: Density of yarn as it lies on a bobbin, air between the coils included (common practice, no source), and its relative
#: standard uncertainty: from lofty wool to hard cotton it is some 250 to 700 kg/m³.
PACKAGE_DENSITY_KG_M3: Final = 450.0
PACKAGE_DENSITY_RELATIVE_U: Final = 0.25
#: Length for which a passage is told, as a small roller would.
_GAP_M = 0.025
_KG_M_OF_TEX = 1e-6
#: What taking the package for a cylinder of whole layers is worth, as a share of the length.
_CYLINDER_U = 0.003
#: A package never is thinner than its core, whatever the gauge says.
_LEAST_GROWTH = 1e-6

Lacking = Literal["no-bobbin-core", "no-bobbin-growth"]


@dataclass(frozen=True)
class Growth:
    """The package's diameter after n turns wound on, core_m + rise_m · n, and the standard uncertainty of each."""

    core_m: float
    core_u_m: float
    rise_m: float
    rise_u_m: float

    def diameter_m(self, turns: float) -> float:
        """Diameter after `turns` wound on."""
        return self.core_m + self.rise_m * turns

    def length_m(self, turns: FloatArray) -> FloatArray:
        """Length of the first `turns` (n,) wound on."""
        length: FloatArray = pi * (self.core_m * turns + 0.5 * self.rise_m * turns * turns)
        return length


@dataclass(frozen=True)
class BobbinLength:
    """The yarn by bobbin against flyer. growth: of its package; length: all that was wound on, in `turns` turns.

    passages: times at which each further piece of one length was in, as a roller would have told them.
    """

    yarn: MeasuredLength
    growth: Growth
    length: Measured
    turns: Measured
    passages: tuple[Piece, ...]

    @property
    def full(self) -> Measured:
        """Diameter over the yarn at the end, in metres."""
        n = self.turns.value
        return Measured(self.growth.diameter_m(n), n * self.growth.rise_u_m)


class NoBobbinLength(ValueError):  # noqa: N818  it is an answer, not a mistake
    """What the wheel file lacks for a length; reason is one of `no-bobbin-core`, `no-bobbin-growth`."""

    def __init__(self, reason: Lacking) -> None:
        super().__init__(reason)
        self.reason: Lacking = reason


def bobbin_length(log: Conditioned, rig: Rig, count_tex: float | None = None) -> BobbinLength | None:
    """Return the length wound on; None where flyer and bobbin weren't seen winding on together.

    count_tex: the yarn's count, used where the full diameter was not measured. Raises NoBobbinLength where the wheel
    file says too little of the bobbin.
    """
    wound = wound_turns_of(log)
    start_s, _ = count_from(log, rig)
    if wound is None:
        return None
    before = float(np.interp(start_s, wound.t_s, wound.turns))
    turns = wound.total - before
    if turns <= 3.0 * wound.u:
        return None
    growth = growth_by_turns(rig.bobbin, turns, count_tex)
    length = wound_length(growth, Measured(turns, wound.u), both=rig.bobbin.full is not None)
    pieces = _passages(wound, before, growth, start_s)
    if not pieces:
        return None
    per_gap = Length(_GAP_M, _GAP_M * length.u / length.value)
    yarn = length_of_passages("bobbin", pieces, per_gap, 1, start_s)
    return BobbinLength(yarn, growth, length, Measured(turns, wound.u), pieces)


def growth_by_turns(bobbin: Bobbin, turns: float, count_tex: float | None) -> Growth:
    """Return how the diameter grows where `turns` are wound on in all; see the module's head. Raises NoBobbinLength."""
    if bobbin.core is None:
        raise NoBobbinLength("no-bobbin-core")
    core, core_u = bobbin.core.m, bobbin.core.m_u
    if bobbin.full is not None:
        grown = max(bobbin.full.m - core, _LEAST_GROWTH * core)
        return Growth(core, core_u, grown / turns, hypot(core_u, bobbin.full.m_u) / turns)
    if bobbin.width is None or count_tex is None:
        raise NoBobbinLength("no-bobbin-growth")
    rise = 2.0 * coil_room_m2(count_tex) / bobbin.width.m
    relative = hypot(PACKAGE_DENSITY_RELATIVE_U, bobbin.width.m_u / bobbin.width.m)
    return Growth(core, core_u, rise, rise * relative)


def coil_room_m2(count_tex: float) -> float:
    """Return the room of one coil's cross-section in m², a = m/ρ: mass per length over the package's density."""
    return count_tex * _KG_M_OF_TEX / PACKAGE_DENSITY_KG_M3


def wound_length(growth: Growth, turns: Measured, *, both: bool) -> Measured:
    """Return the length of all `turns` wound on. both: the growth stems from both diameters, so it shares the core's u.

    L = π N (c + f)/2 then: its uncertainty is that of the two diameters' mean and of N, of which f does not depend.
    """
    n = turns.value
    length = float(growth.length_m(np.array([n]))[0])
    if both:
        full_u = sqrt(max((growth.rise_u_m * n) ** 2 - growth.core_u_m**2, 0.0))
        by_diameter = 0.5 * pi * n * hypot(growth.core_u_m, full_u)
        by_turns = length / n * turns.u
    else:
        by_diameter = pi * n * hypot(growth.core_u_m, 0.5 * n * growth.rise_u_m)
        by_turns = pi * growth.diameter_m(n) * turns.u
    return Measured(length, hypot(by_diameter, by_turns, _CYLINDER_U * length))


def _passages(wound: WoundTurns, before: float, growth: Growth, start_s: float) -> tuple[Piece, ...]:
    """Times at which each further _GAP_M was wound on, by span, as a roller of one target would have told them.

    The first comes after half a gap, so that the count is right on average wherever it ends.
    """
    pieces = []
    for span in np.unique(wound.span):
        mine = (wound.span == span) & (wound.t_s >= start_s)
        if mine.sum() < 2:
            continue
        # yarn that was given back and wound on anew counts once
        length = np.maximum.accumulate(growth.length_m(wound.turns[mine] - before))
        first = np.ceil(length[0] / _GAP_M - 0.5) + 0.5
        marks = _GAP_M * np.arange(first, length[-1] / _GAP_M)
        if len(marks):
            t_s = np.interp(marks, length, wound.t_s[mine])
            pieces.append(Piece(int(span), Counted.one_each(t_s)))
    return tuple(pieces)
