"""The plan file: TOML with units in, a yarn plan in turns per metre and tex out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, TypeVar, get_args

import msgspec

from .. import units
from ..estimators.plan import Direction, Stated, YarnPlan
from .toml_tables import into, printable, read_tables

_TOLERANCE: Final = 0.1
_MOST_PLIES: Final = 1000
#: Twist stated twice, directly and by factor and count: so much difference is rounding and not worth a word.
_AGREE: Final = 0.01
Value = TypeVar("Value")


class PlanError(ValueError):
    """A plan file that can't be used; the message names file, table and key."""


@dataclass(frozen=True)
class PlanFile:
    """What a plan file says. factor_tpm: the twist that its factor and count would make, where `twist` is another."""

    yarn: YarnPlan
    factor_tpm: float | None = None


class _File(msgspec.Struct, forbid_unknown_fields=True):
    yarn: dict[str, Any] | None = None


class _Yarn(msgspec.Struct, forbid_unknown_fields=True):
    twist: str | None = None
    count: str | None = None
    twist_factor: str | None = None
    tolerance: str | None = None
    direction: str = "Z"
    plies: int = 1


def read_plan(data: bytes, name: str) -> PlanFile:
    """Return what the plan file `name` with content `data` says. Raises PlanError with one sentence.

    Twist comes from `twist`, or from `twist_factor` and `count`; when all are given, `twist` wins and the other one is
    told. Twist and count are those of the singles. Tolerance is 10 % unless given.
    """
    tables = read_tables(data, name, _File, PlanError)
    if tables.yarn is None:
        raise PlanError(f'{name}: has no [yarn] table; write [yarn] and under it, for example, twist = "5.2 tpi".')
    at = f"{name}: [yarn]"
    yarn = into(tables.yarn, _Yarn, at, PlanError)
    if yarn.direction not in get_args(Direction):
        raise PlanError(f'{at} direction: "{printable(yarn.direction)}" is neither "S" nor "Z".')
    if not 1 <= yarn.plies <= _MOST_PLIES:
        raise PlanError(f"{at} plies: {yarn.plies} must be a whole number from 1 (singles) to {_MOST_PLIES}.")
    tolerance = _read(units.percent, yarn.tolerance, f"{at} tolerance")
    count_tex = _read(units.count, yarn.count, f"{at} count")
    twist_tpm = _read(units.twist, yarn.twist, f"{at} twist")
    factor_tpm = _factor_tpm(yarn, count_tex, at)
    used_tpm = factor_tpm if twist_tpm is None else twist_tpm
    if used_tpm is None:
        raise PlanError(f"{at} twist: is missing; give twist, or count and twist_factor.")
    stated: Stated = "twist" if factor_tpm is None else "twist_factor" if twist_tpm is None else "both"
    plan = YarnPlan(
        twist_tpm=used_tpm,
        count_tex=count_tex,
        tolerance=_TOLERANCE if tolerance is None else tolerance,
        direction=yarn.direction,  # type: ignore[arg-type]  # checked against the literal's values above
        plies=yarn.plies,
        stated=stated,
    )
    differs = factor_tpm is not None and abs(used_tpm / factor_tpm - 1.0) > _AGREE
    return PlanFile(plan, factor_tpm if differs else None)


def _factor_tpm(yarn: _Yarn, count_tex: float | None, at: str) -> float | None:
    """Return the twist that the plan's factor makes of its count, None without a factor."""
    factor = _read(units.read_twist_factor, yarn.twist_factor, f"{at} twist_factor")
    if factor is None:
        return None
    if count_tex is None:
        raise PlanError(f'{at} twist_factor: needs the yarn\'s count too, for example count = "12 Nm".')
    return units.twist_of_factor(factor, count_tex)


def _read(reader: Callable[[str], Value], text: str | None, at: str) -> Value | None:
    if text is None:
        return None
    try:
        return reader(text)
    except units.UnitsError as bad:
        raise PlanError(f"{at}: {bad}") from None
