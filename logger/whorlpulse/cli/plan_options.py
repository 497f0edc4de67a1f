"""The options of `plan` that carry figures: ratios, a whorl, a mass, and what the hands do."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final, TypeVar

from whorlpulse import units
from whorlpulse.estimators.band_ratio import RatioWithU
from whorlpulse.estimators.hands import Hands
from whorlpulse.findings.catalogue import sentence
from whorlpulse.rig import Length, Rig

from .exits import InputError
from .lists import span_of
from .toml_tables import printable

_RATIO: Final = re.compile(r"([0-9]{1,4}(?:\.[0-9]{0,9})?)(?:\s*:\s*1)?")
Value = TypeVar("Value")


def ratios(texts: Sequence[str]) -> list[RatioWithU]:
    """Return ratios as typed, `6.21` or `6.21:1`, with the uncertainty of their last digit."""
    return [_ratio(text) for text in texts]


def _ratio(text: str) -> RatioWithU:
    found = _RATIO.fullmatch(text.strip())
    value = float(found[1]) if found is not None else 0.0
    if found is None or not 0.01 <= value <= 1000.0:
        raise InputError(sentence("ratio-option").format(given=printable(text)))
    return RatioWithU(value, units.rectangle_u(units.last_digit(found[1])))


def with_whorl(rig: Rig, name: str | None) -> Rig:
    """Return the rig with the whorl of that name only; InputError, with the names there are, if there is none."""
    if name is None:
        return rig
    named = [w for w in rig.whorls if w.name is not None]
    chosen = tuple(w for w in named if w.name is not None and w.name.casefold() == name.strip().casefold())
    if not chosen:
        names = ", ".join(w.name for w in named if w.name is not None)
        known = sentence("whorls-known").format(names=names) if names else sentence("whorls-none-named")
        raise InputError(sentence("no-such-whorl").format(given=printable(name), known=known))
    return replace(rig, whorls=chosen)


def mass_kg(text: str | None) -> float | None:
    """Return a mass as typed, in kilograms."""
    mass = option_value("--mass", units.mass, text)
    return None if mass is None else mass.kg


def hands_of(planned: Hands, *, draft: str | None, easy: str | None, draw: str | None) -> Hands:
    """Return what the hands do: options over the plan file."""
    own = option_value("--draft", units.length, draft)
    comfort = option_value("--easy", span_of, easy)
    length = option_value("--draw", units.length, draw)
    return Hands(
        draw=planned.draw if length is None else Length(*length),
        draft=None if own is None else Length(*own),
        comfort=planned.comfort if comfort is None else comfort,
    )


def option_value(option: str, reader: Callable[[str], Value], text: str | None) -> Value | None:
    """Return what an option's text states; InputError, naming the option, if it can't be read; None left out."""
    if text is None:
        return None
    try:
        return reader(text)
    except units.UnitsError as fault:
        raise InputError(sentence("bad-option").format(option=option, why=fault)) from None
