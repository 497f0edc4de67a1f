"""The options of `plan` that carry figures: ratios and a mass."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from whorlpulse import units
from whorlpulse.estimators.band_ratio import RatioWithU
from whorlpulse.findings.catalogue import sentence

from .exits import InputError
from .toml_tables import printable

_RATIO: Final = re.compile(r"([0-9]{1,4}(?:\.[0-9]{0,9})?)(?:\s*:\s*1)?")


def ratios(texts: Sequence[str]) -> list[RatioWithU]:
    """Return ratios as typed, `6.21` or `6.21:1`, with the uncertainty of their last digit."""
    return [_ratio(text) for text in texts]


def _ratio(text: str) -> RatioWithU:
    found = _RATIO.fullmatch(text.strip())
    value = float(found[1]) if found is not None else 0.0
    if found is None or not 0.01 <= value <= 1000.0:
        raise InputError(sentence("ratio-option").format(given=printable(text)))
    return RatioWithU(value, units.rectangle_u(units.last_digit(found[1])))


def mass_kg(text: str | None) -> float | None:
    """Return a mass as typed, in kilograms."""
    if text is None:
        return None
    try:
        return units.mass(text).kg
    except units.UnitsError as fault:
        raise InputError(sentence("bad-option").format(option="--mass", why=fault)) from None
