"""The plan file: TOML with units in, a yarn plan in turns per metre and tex out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeVar, get_args

import msgspec

from .. import units
from ..estimators.plan import Direction, Stated, YarnPlan
from .toml_tables import into, printable, read_tables

_TOLERANCE: Final = 0.1
_MOST_PLIES: Final = 1000
#: Twist stated twice, directly and by factor and count, may differ by as much as rounding makes it.
_AGREE: Final = 0.01
Value = TypeVar("Value")


class PlanError(ValueError):
    """A plan file that can't be used; the message names file, table and key."""


class _File(msgspec.Struct, forbid_unknown_fields=True):
    yarn: dict[str, Any] | None = None


class _Yarn(msgspec.Struct, forbid_unknown_fields=True):
    twist: str | None = None
    count: str | None = None
    twist_factor: str | None = None
    tolerance: str | None = None
    direction: str = "Z"
    plies: int = 1


def read_plan(data: bytes, name: str) -> YarnPlan:
    """Return the yarn plan in the file `name` with content `data`. Raises PlanError with one sentence.

    Twist comes from `twist`, or from `twist_factor` and `count`; when all are given they must agree within
    1 %, and `twist` is used. Twist and count are those of the singles. Tolerance is 10 % unless given.
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
    twist_tpm, count_tex, stated = _twist_and_count(yarn, at)
    return YarnPlan(
        twist_tpm=twist_tpm,
        count_tex=count_tex,
        tolerance=_TOLERANCE if tolerance is None else tolerance,
        direction=yarn.direction,  # type: ignore[arg-type]  # checked against the literal's values above
        plies=yarn.plies,
        stated=stated,
    )


def _twist_and_count(yarn: _Yarn, at: str) -> tuple[float, float | None, Stated]:
    """Return twist in turns per metre, count in tex, and which of the two ways the plan took."""
    count_tex = _read(units.count, yarn.count, f"{at} count")
    twist_tpm = _read(units.twist, yarn.twist, f"{at} twist")
    factor = _read(units.read_twist_factor, yarn.twist_factor, f"{at} twist_factor")
    if factor is None:
        if twist_tpm is None:
            raise PlanError(f"{at} twist: is missing; give twist, or count and twist_factor.")
        return twist_tpm, count_tex, "twist"
    if count_tex is None:
        raise PlanError(f'{at} twist_factor: needs the yarn\'s count too, for example count = "12 Nm".')
    derived_tpm = units.twist_of_factor(factor, count_tex)
    if twist_tpm is None:
        return derived_tpm, count_tex, "twist_factor"
    if abs(twist_tpm / derived_tpm - 1.0) > _AGREE:
        raise PlanError(
            f"{at} twist: {_both(twist_tpm)}, but count and twist_factor make {_both(derived_tpm)}; "
            "leave out the one that is wrong."
        )
    return twist_tpm, count_tex, "both"


def _read(reader: Callable[[str], Value], text: str | None, at: str) -> Value | None:
    if text is None:
        return None
    try:
        return reader(text)
    except units.UnitsError as bad:
        raise PlanError(f"{at}: {bad}") from None


def _both(twist_tpm: float) -> str:
    return f"{units.tpi_from_tpm(twist_tpm):.2f} tpi ({twist_tpm:.0f} tpm)"
