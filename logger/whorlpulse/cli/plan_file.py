"""The plan file: TOML with units in, a yarn plan in turns per metre and tex out, and the spinner's own measures.

What is said of the finished, plied yarn (`of = "plied"`) becomes a plan of its singles here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, Final, Literal, TypeVar, get_args

import msgspec

from .. import units
from ..estimators.hands import Hands
from ..estimators.plan import Stated, YarnPlan
from ..estimators.plying import BALANCED_PLY, singles_count_tex, singles_twist_tpm
from ..estimators.yarn_geometry import FIBRE_DENSITY_KG_M3, Direction, StatedBody, tex_of_wraps
from ..rig import Length
from .lists import span_of
from .toml_tables import into, printable, read_tables

_TOLERANCE: Final = 0.1
_MOST_PLIES: Final = 1000
#: Twist stated twice, directly and by factor and count: so much difference is rounding and not worth a word.
_AGREE: Final = 0.01
#: A yarn with more or fewer wraps an inch than this is none.
_WRAPS: Final = (0.5, 500.0)
Value = TypeVar("Value")


class PlanError(ValueError):
    """A plan file that can't be used; the message names file, table and key."""


@dataclass(frozen=True)
class PlanFile:
    """What a plan file says. factor_tpm: the twist that its factor and count would make, where `twist` is another."""

    yarn: YarnPlan
    factor_tpm: float | None = None
    hands: Hands = field(default_factory=Hands)


class _File(msgspec.Struct, forbid_unknown_fields=True):
    yarn: dict[str, Any] | None = None
    hands: dict[str, Any] = {}


class _Yarn(msgspec.Struct, forbid_unknown_fields=True):
    twist: str | None = None
    count: str | None = None
    twist_factor: str | None = None
    tolerance: str | None = None
    direction: str = "Z"
    plies: int = 1
    of: str = "singles"
    ply_twist: str | None = None
    wraps_per_inch: float | None = None
    fibre: str | None = None
    fibre_density: str | None = None
    packing: str | None = None
    contraction: str | None = None
    ply_contraction: str | None = None


class _Hands(msgspec.Struct, forbid_unknown_fields=True):
    draw: str | None = None
    draft: str | None = None


def read_plan(data: bytes, name: str) -> PlanFile:
    """Return what the plan file `name` with content `data` says. Raises PlanError with one sentence.

    Twist comes from `twist`, or from `twist_factor` and `count`; when all are given, `twist` wins and the other one is
    told. Tolerance is 10 % unless given.
    """
    tables = read_tables(data, name, _File, PlanError)
    if tables.yarn is None:
        raise PlanError(f'{name}: has no [yarn] table; write [yarn] and under it, for example, twist = "5.2 tpi".')
    at = f"{name}: [yarn]"
    yarn = into(tables.yarn, _Yarn, at, PlanError)
    _refuse_words(yarn, at)
    body = _body(yarn, at)
    count_tex = _read(units.count, yarn.count, f"{at} count")
    by_wraps = count_tex is None and body.wraps_per_m is not None
    if count_tex is None and body.wraps_per_m is not None:
        count_tex = tex_of_wraps(body.wraps_per_m, body.density_kg_m3)[1]
    twist_tpm = _read(units.twist, yarn.twist, f"{at} twist")
    factor_tpm = _factor_tpm(yarn, count_tex, at)
    used_tpm = factor_tpm if twist_tpm is None else twist_tpm
    if used_tpm is None:
        raise PlanError(f"{at} twist: is missing; give twist, or count and twist_factor.")
    stated: Stated = "twist" if factor_tpm is None else "twist_factor" if twist_tpm is None else "both"
    plan = YarnPlan(
        twist_tpm=used_tpm,
        count_tex=count_tex,
        tolerance=_read(units.percent, yarn.tolerance, f"{at} tolerance") or _TOLERANCE,
        direction=yarn.direction,  # type: ignore[arg-type]  # checked against the literal's values
        plies=yarn.plies,
        stated=stated,
        body=body,
        count_by_wraps=by_wraps,
        contraction=_contraction(yarn.contraction, count_tex, f"{at} contraction"),
        ply_contraction=_ply_contraction(yarn, at),
    )
    plan = _plied(plan, yarn, at) if yarn.of == "plied" else _with_ply(plan, yarn, at)
    differs = factor_tpm is not None and abs(used_tpm / factor_tpm - 1.0) > _AGREE
    return PlanFile(plan, factor_tpm if differs else None, _hands(tables.hands, f"{name}: [hands]"))


def _refuse_words(yarn: _Yarn, at: str) -> None:
    """Refuse a word or number that is none of those understood."""
    if yarn.direction not in get_args(Direction):
        raise PlanError(f'{at} direction: "{printable(yarn.direction)}" is neither "S" nor "Z".')
    if not 1 <= yarn.plies <= _MOST_PLIES:
        raise PlanError(f"{at} plies: {yarn.plies} must be a whole number from 1 (singles) to {_MOST_PLIES}.")
    if yarn.of not in ("singles", "plied"):
        raise PlanError(f'{at} of: "{printable(yarn.of)}" is neither "singles" nor "plied".')
    if yarn.of == "plied" and yarn.plies == 1:
        raise PlanError(f"{at} plies: a plied yarn has at least 2; write how many, or leave `of` out.")


def _body(yarn: _Yarn, at: str) -> StatedBody:
    """Return what is said of wraps, fibre and packing."""
    wraps = yarn.wraps_per_inch
    if wraps is not None and not _WRAPS[0] <= wraps <= _WRAPS[1]:
        raise PlanError(f"{at} wraps_per_inch: {wraps:g} is no yarn; from {_WRAPS[0]:g} to {_WRAPS[1]:g}.")
    if yarn.fibre is not None and yarn.fibre_density is not None:
        raise PlanError(f"{at} fibre: stands beside fibre_density; give one of them.")
    density = _read(units.density, yarn.fibre_density, f"{at} fibre_density")
    if yarn.fibre is not None:
        density = FIBRE_DENSITY_KG_M3.get(yarn.fibre.strip().lower())
        if density is None:
            known = ", ".join(FIBRE_DENSITY_KG_M3)
            raise PlanError(
                f'{at} fibre: "{printable(yarn.fibre)}" is not known; known are {known}; '
                'or give fibre_density = "1.31 g/cm3".'
            )
    packing = _read(units.percent, yarn.packing, f"{at} packing")
    return StatedBody(None if wraps is None else wraps / units.INCH_M, density, packing)


def _factor_tpm(yarn: _Yarn, count_tex: float | None, at: str) -> float | None:
    """Return the twist that the plan's factor makes of its count, None without a factor."""
    factor = _read(units.read_twist_factor, yarn.twist_factor, f"{at} twist_factor")
    if factor is None:
        return None
    if count_tex is None:
        raise PlanError(f'{at} twist_factor: needs the yarn\'s count too, for example count = "12 Nm".')
    return units.twist_of_factor(factor, count_tex)


def _contraction(text: str | None, count_tex: float | None, at: str) -> float | Literal["helix"]:
    if text is None:
        return 0.0
    if text.strip().lower() != "helix":
        return _fraction(text, at)
    if count_tex is None:
        raise PlanError(f'{at}: "helix" needs the yarn\'s count or wraps_per_inch; or write a percentage, as "5 %".')
    return "helix"


def _ply_contraction(yarn: _Yarn, at: str) -> float:
    return 0.0 if yarn.ply_contraction is None else _fraction(yarn.ply_contraction, f"{at} ply_contraction")


def _fraction(text: str, at: str) -> float:
    """Read a contraction in per cent; nothing contracts by half."""
    part = _read(units.percent, text, at)
    if part is None or part >= 0.5:
        raise PlanError(f'{at}: "{printable(text)}" is more than a yarn can contract; for example "5 %".')
    return part


def _ply_tpm(yarn: _Yarn, at: str) -> float | None:
    """Return the ply twist where it is written as a twist."""
    if yarn.ply_twist is None or "%" in yarn.ply_twist:
        return None
    return _read(units.twist, yarn.ply_twist, f"{at} ply_twist")


def _ply_share(yarn: _Yarn, at: str) -> float | None:
    """Return the ply twist where it is written as a share of the singles'."""
    if yarn.ply_twist is None or "%" not in yarn.ply_twist:
        return None
    return _read(units.percent, yarn.ply_twist, f"{at} ply_twist")


def _with_ply(plan: YarnPlan, yarn: _Yarn, at: str) -> YarnPlan:
    """Return a plan of singles with the ply twist that was asked for."""
    if yarn.ply_twist is not None and plan.plies == 1:
        raise PlanError(f"{at} ply_twist: needs plies, at least 2.")
    share = _ply_share(yarn, at)
    return replace(plan, ply_tpm=_ply_tpm(yarn, at) if share is None else share * plan.twist_tpm)


def _plied(plan: YarnPlan, yarn: _Yarn, at: str) -> YarnPlan:
    """Return the singles of a plan whose twist, count and wraps are those of the plied yarn.

    The singles are taken to be as dense as the plied yarn, so their wraps go with the root of their count.
    """
    if _ply_tpm(yarn, at) is not None:
        raise PlanError(
            f'{at} ply_twist: with of = "plied" twist is the ply twist already; here only its share of the singles\' '
            'twist has a meaning, as "66 %".'
        )
    share = _ply_share(yarn, at) or BALANCED_PLY
    ply_tpm, body = plan.twist_tpm, plan.body
    part = singles_count_tex(1.0, plan.plies, plan.ply_contraction)
    wraps = None if body.wraps_per_m is None else body.wraps_per_m / part**0.5
    return replace(
        plan,
        twist_tpm=singles_twist_tpm(ply_tpm, share),
        count_tex=None if plan.count_tex is None else plan.count_tex * part,
        body=replace(body, wraps_per_m=wraps),
        ply_tpm=ply_tpm,
        of_plied=True,
    )


def _hands(table: dict[str, Any], at: str) -> Hands:
    said = into(table, _Hands, at, PlanError)
    draw = _read(units.length, said.draw, f"{at} draw")
    comfort = _read(span_of, said.draft, f"{at} draft")
    return Hands(draw=None if draw is None else Length(*draw), comfort=comfort)


def _read(reader: Callable[[str], Value], text: str | None, at: str) -> Value | None:
    if text is None:
        return None
    try:
        return reader(text)
    except units.UnitsError as bad:
        raise PlanError(f"{at}: {bad}") from None
