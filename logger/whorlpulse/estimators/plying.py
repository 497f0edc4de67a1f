"""Plying: singles twisted together, most often the other way; twist in turns per metre, counts in tex.

Plied yarn of length L is made from singles of length L / (1 − R) each, R the part that plying takes away. Every ply
turn the other way takes one turn out of each single (kinematics), so per metre of plied yarn

    left = S / (1 − R) − P          twisted together the same way: S / (1 − R) + P

S singles' twist, P ply twist. Whether a yarn hangs still is a matter of torques, and those depend on fibre and on how
long the singles have rested; that about two thirds of S does it in a two-ply is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from whorlpulse.estimators.measured import Measured, quotient, weighted_sum
from whorlpulse.estimators.yarn_geometry import Direction

Balance = Literal["balanced", "under", "over", "undecided"]

#: Ply twist over singles twist for a balanced two-ply: common practice, no source.
BALANCED_PLY: Final = 2.0 / 3.0
#: What still passes for two thirds: give or take a tenth (common practice, no source).
BALANCED_FROM_TO: Final = (0.9 * BALANCED_PLY, 1.1 * BALANCED_PLY)


@dataclass(frozen=True)
class Plying:
    """What is known of a plied yarn; see the module's head.

    singles, ply: turns per metre; share: ply over singles; left: turns per metre of plied yarn that stay in each
    single, negative where plying took more than there was. balanced_tpm: two thirds of the singles' twist. balance is
    None where the ply goes the same way.
    """

    singles: Measured
    ply: Measured
    share: Measured
    left: Measured
    balanced_tpm: float
    balance: Balance | None


def plying(
    singles: Measured,
    ply: Measured,
    *,
    same_way: bool = False,
    contraction: float = 0.0,
    shared_relative_u: float = 0.0,
) -> Plying:
    """Return what plying has made of the singles.

    singles: mean twist of the singles before; ply: ply turns per metre of plied yarn. contraction: R, a fraction.
    shared_relative_u: the part of both values' relative uncertainty that is one input of both, such as one roller's
    circumference: it cancels in their share and counts once in what is left (GUM 5.2.2, r = 1).
    """
    if not 0.0 <= contraction < 1.0:
        raise ValueError(f"a contraction is a fraction from 0 to below 1, got {contraction}")
    share = quotient(ply, singles, _correlation(ply, singles, shared_relative_u))
    before = singles.times(1.0 / (1.0 - contraction))
    sign = 1.0 if same_way else -1.0
    own = weighted_sum([_own(before, shared_relative_u), _own(ply, shared_relative_u)], [1.0, sign])
    left = Measured(own.value, math.hypot(own.u, shared_relative_u * own.value), own.dof)
    balance = None if same_way else _balance(share)
    return Plying(singles, ply, share, left, singles.value * BALANCED_PLY, balance)


def _own(m: Measured, shared_relative_u: float) -> Measured:
    """The value with the shared part of its uncertainty taken out."""
    return Measured(m.value, math.sqrt(max(m.u**2 - (shared_relative_u * m.value) ** 2, 0.0)), m.dof)


def _correlation(a: Measured, b: Measured, shared_relative_u: float) -> float:
    if not (a.u > 0 and b.u > 0):
        return 0.0
    return min(shared_relative_u**2 * a.value * b.value / (a.u * b.u), 1.0)


def _balance(share: Measured) -> Balance:
    low, high = BALANCED_FROM_TO
    if low <= share.low and share.high <= high:
        return "balanced"
    if share.high < low:
        return "under"
    return "over" if share.low > high else "undecided"


def mean_of_singles(singles: Sequence[Measured], shared_relative_u: float = 0.0) -> Measured:
    """Return the mean twist of several singles; what they share (one roller) doesn't average out."""
    if not singles:
        raise ValueError("a plied yarn needs at least one single")
    part = 1.0 / len(singles)
    own = weighted_sum([_own(s, shared_relative_u) for s in singles], [part] * len(singles))
    return Measured(own.value, math.hypot(own.u, shared_relative_u * own.value), own.dof)


def ply_twist_tpm(singles_tpm: float, fraction: float = BALANCED_PLY) -> float:
    """Return the ply twist for singles of `singles_tpm`, to be put in the other way (`ply_direction`).

    About two thirds leaves a balanced two-ply: common practice, no source.
    """
    _positive(singles_tpm=singles_tpm, fraction=fraction)
    return singles_tpm * fraction


def singles_twist_tpm(ply_tpm: float, fraction: float = BALANCED_PLY) -> float:
    """Return the singles' twist for which `ply_tpm` is that fraction: what to spin for a plied yarn that is wanted."""
    _positive(ply_tpm=ply_tpm, fraction=fraction)
    return ply_tpm / fraction


def ply_direction(singles: Direction) -> Direction:
    """Return the direction opposite to the singles'."""
    return "S" if singles == "Z" else "Z"


def resultant_count_tex(plies_tex: Sequence[float], contraction: float = 0.0) -> float:
    """Return the count of plies twisted together: the sum of their tex, more by what plying contracts, 1/(1 − R)."""
    if not plies_tex:
        raise ValueError("a plied yarn needs at least one ply")
    for tex in plies_tex:
        _positive(tex=tex)
    if not 0.0 <= contraction < 1.0:
        raise ValueError(f"a contraction is a fraction from 0 to below 1, got {contraction}")
    return math.fsum(plies_tex) / (1.0 - contraction)


def singles_count_tex(plied_tex: float, plies: int, contraction: float = 0.0) -> float:
    """Return the count of each of `plies` equal singles in a yarn of `plied_tex`: `resultant_count_tex` undone."""
    _positive(plied_tex=plied_tex, plies=plies)
    if not 0.0 <= contraction < 1.0:
        raise ValueError(f"a contraction is a fraction from 0 to below 1, got {contraction}")
    return plied_tex * (1.0 - contraction) / plies


def _positive(**named: float) -> None:
    for name, value in named.items():
        if not (value > 0 and math.isfinite(value)):
            raise ValueError(f"{name} must be a positive number, got {value}")
