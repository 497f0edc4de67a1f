"""The wheel file: TOML with units in, a partial rig in metres out.

Every complaint is one sentence that names the file, the table and the key, because the file is written by
hand. A key that is not known is refused: a misspelt `diametre` would otherwise quietly cost the answer.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Final, get_args

import msgspec

from .. import units
from ..rig import Bobbin, Length, Rig, Tension, Whorl
from .toml_tables import LONGEST_NAME, into, printable, read_tables

_MOST_TARGETS: Final = 4096
#: So many standard uncertainties a length may be off before its file is refused.
_GAUGES: Final = 3.0
_TENSIONS: Final = get_args(Tension)


class WheelError(ValueError):
    """A wheel file that can't be used; the message names file, table and key."""


@dataclass(frozen=True)
class WheelFile:
    """What a wheel file says, in metres; None or absent where it says nothing.

    targets: targets per turn by channel letter, only those given; they override the log's.
    """

    file: str
    name: str | None = None
    tension: Tension | None = None
    wheel_diameter: Length | None = None
    band_thickness: Length | None = None
    band_length: Length | None = None
    whorls: tuple[Whorl, ...] = ()
    bobbin: Bobbin | None = None
    targets: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))

    def onto(self, rig: Rig) -> Rig:
        """Return `rig` (as the log describes it) with everything that this file says put over it."""
        said = {
            key: value
            for key in ("tension", "wheel_diameter", "band_thickness", "band_length", "bobbin")
            if (value := getattr(self, key)) is not None
        }
        return replace(
            rig,
            **said,
            whorls=self.whorls or rig.whorls,
            targets=MappingProxyType({**rig.targets, **self.targets}),
        )


class _File(msgspec.Struct, forbid_unknown_fields=True):
    wheel: dict[str, Any] = {}
    whorl: list[dict[str, Any]] = []
    bobbin: dict[str, Any] = {}
    targets: dict[str, Any] = {}


class _Wheel(msgspec.Struct, forbid_unknown_fields=True):
    name: str | None = None
    tension: str | None = None
    wheel_diameter: str | None = None
    band_thickness: str | None = None
    band_length: str | None = None


class _Whorl(msgspec.Struct, forbid_unknown_fields=True):
    name: str | None = None
    diameter: str | None = None
    ratio: float | None = None
    ratio_u: float | None = None


class _Bobbin(msgspec.Struct, forbid_unknown_fields=True):
    core_diameter: str | None = None
    full_diameter: str | None = None
    width: str | None = None
    whorl_diameter: str | None = None


class _Targets(msgspec.Struct, forbid_unknown_fields=True):
    w: int | None = None
    f: int | None = None
    b: int | None = None
    y: int | None = None


def read_wheel(data: bytes, name: str) -> WheelFile:
    """Return what the wheel file `name` with content `data` says. Raises WheelError with one sentence.

    Lengths carry the uncertainty that their text states or implies; a ratio without ratio_u gets that of its
    last written digit (6.21 is known to 0.01 / sqrt(12)).
    """
    tables = read_tables(data, name, _File, WheelError)
    wheel = into(tables.wheel, _Wheel, f"{name}: [wheel]", WheelError)
    at = f"{name}: [wheel]"
    if wheel.tension is not None and wheel.tension not in _TENSIONS:
        raise WheelError(f'{at} tension: "{printable(wheel.tension)}" is none of {", ".join(_TENSIONS)}.')
    if not (tables.wheel or tables.whorl or tables.bobbin or tables.targets):
        raise WheelError(f"{name}: says nothing about a wheel; give it a [wheel], [[whorl]] or [targets] table.")
    band = _length(wheel.band_thickness, f"{at} band_thickness")
    whorls = tuple(_read_whorl(raw, f"{name}: [[whorl]] number {n}", band) for n, raw in enumerate(tables.whorl, 1))
    _refuse_twins(whorls, name)
    return WheelFile(
        file=name,
        name=_name(wheel.name, f"{at} name"),
        tension=wheel.tension,  # type: ignore[arg-type]  # checked against the literal's values above
        wheel_diameter=_length(wheel.wheel_diameter, f"{at} wheel_diameter"),
        band_thickness=band,
        band_length=_length(wheel.band_length, f"{at} band_length"),
        whorls=whorls,
        bobbin=_read_bobbin(tables.bobbin, f"{name}: [bobbin]") if tables.bobbin else None,
        targets=_read_targets(tables.targets, f"{name}: [targets]"),
    )


def _length(text: str | None, at: str) -> Length | None:
    if text is None:
        return None
    try:
        return Length(*units.length(text))
    except units.UnitsError as bad:
        raise WheelError(f"{at}: {bad}") from None


def _name(text: str | None, at: str) -> str | None:
    if text is None or not text.strip():
        return None
    if len(text) > LONGEST_NAME or not text.isprintable():
        raise WheelError(f"{at}: a name is one line of at most {LONGEST_NAME} printable characters.")
    return text.strip()


def _read_whorl(raw: Mapping[str, Any], at: str, band: Length | None) -> Whorl:
    whorl = into(raw, _Whorl, at, WheelError)
    diameter = _length(whorl.diameter, f"{at} diameter")
    if diameter is not None and band is not None and diameter.m <= band.m:
        raise WheelError(
            f'{at} diameter: "{whorl.diameter}" is not larger than the band that runs on it; '
            "check both figures and their units."
        )
    if whorl.diameter is None and whorl.ratio is None:
        raise WheelError(f"{at}: gives neither diameter nor ratio; one of them is needed.")
    ratio, ratio_u = whorl.ratio, whorl.ratio_u
    if ratio is not None and not 0.01 <= ratio <= 1000.0:
        raise WheelError(f"{at} ratio: {ratio:g} is no ratio of a wheel; flyer turns per wheel turn, as 6.21.")
    if ratio_u is not None:
        if ratio is None:
            raise WheelError(f"{at} ratio_u: stands without a ratio; give ratio too, or leave it out.")
        if not 0.0 <= ratio_u < ratio:
            raise WheelError(f"{at} ratio_u: {ratio_u:g} must be 0 or more and less than the ratio itself.")
    elif ratio is not None:
        ratio_u = units.rectangle_u(units.last_digit(str(raw["ratio"])))
    return Whorl(_name(whorl.name, f"{at} name"), diameter, ratio, ratio_u)


def _read_bobbin(raw: Mapping[str, Any], at: str) -> Bobbin:
    said = into(raw, _Bobbin, at, WheelError)
    core, full = _length(said.core_diameter, f"{at} core_diameter"), _length(said.full_diameter, f"{at} full_diameter")
    if full is not None and core is None:
        raise WheelError(f"{at} full_diameter: needs core_diameter too, of what the yarn was wound on.")
    # a thin layer may measure less than nothing: only what no gauge explains is refused
    if full is not None and core is not None and full.m + _GAUGES * full.m_u < core.m - _GAUGES * core.m_u:
        raise WheelError(
            f'{at} full_diameter: "{said.full_diameter}" is smaller than core_diameter; '
            "it is the diameter over the yarn, after spinning."
        )
    return Bobbin(core, full, _length(said.width, f"{at} width"), _length(said.whorl_diameter, f"{at} whorl_diameter"))


def _refuse_twins(whorls: tuple[Whorl, ...], file: str) -> None:
    seen: dict[str, int] = {}
    for n, whorl in enumerate(whorls, 1):
        if whorl.name is None:
            continue
        first = seen.setdefault(whorl.name.casefold(), n)
        if first != n:
            raise WheelError(f'{file}: [[whorl]] number {n} name: "{whorl.name}" is number {first}\'s name too.')


def _read_targets(raw: Mapping[str, Any], at: str) -> Mapping[str, int]:
    targets = into(raw, _Targets, at, WheelError)
    given = {key: n for key in ("w", "f", "b", "y") if (n := getattr(targets, key)) is not None}
    for key, n in given.items():
        if not 1 <= n <= _MOST_TARGETS:
            raise WheelError(f"{at} {key}: {n} targets per turn; it must be 1 to {_MOST_TARGETS}.")
    return MappingProxyType(given)
