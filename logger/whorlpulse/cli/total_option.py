"""A yarn's whole length as a spinner knows it: measured, counted off a reel, or weighed.

    23.4 m                      measured
    96 x 1.500 yd               rounds of a reel or strands of a skein, times the length of one
    96 x 1.500 yd + 0.8 yd      and what was left over
    104 g of 1200 m/100g        mass, of a known count or grist

Each figure carries the uncertainty of its last digit, or what stands after +-. Rounds are counted whole: without a
remainder the yarn's end lies anywhere in one round, a rectangle of its length (GUM 4.3.7). All rounds are of one reel,
so its error is common to them. Parts are independent (GUM 5.1.2, 5.1.6).
"""

from __future__ import annotations

import re
from math import hypot
from typing import Final

from whorlpulse import units
from whorlpulse.findings.catalogue import sentence
from whorlpulse.rig import Length

from .exits import InputError

_ROUNDS: Final = re.compile(r"\s*([0-9]{1,6})\s*[x×*]\s*(.*)", re.DOTALL)
_OF: Final = re.compile(r"\s+of\s+", re.IGNORECASE)
_PLUS: Final = re.compile(r"\s\+(?![/-])\s*")
_LONGEST: Final = 200


def total_option(text: str | None) -> Length | None:
    """Return the length that --total gives; InputError, naming the option, if it is none."""
    if text is None:
        return None
    try:
        return total_length(text)
    except units.UnitsError as fault:
        raise InputError(sentence("bad-option").format(option="--total", why=fault)) from None


def total_length(text: str) -> Length:
    """Return the length of all parts of a text like those in the module's head. Raises units.UnitsError."""
    parts = _PLUS.split(text[:_LONGEST])
    lengths = [_part(part, remainder=len(parts) > 1) for part in parts]
    return Length(sum(part.m for part in lengths), hypot(*(part.m_u for part in lengths)))


def _part(text: str, *, remainder: bool) -> Length:
    """remainder: what is left over of a round stands beside, so the rounds are whole ones."""
    rounds = _ROUNDS.fullmatch(text)
    if rounds is not None:
        number, one = int(rounds[1]), units.length(rounds[2])
        if number == 0:
            raise units.UnitsError(sentence("total-no-rounds"))
        ends = 0.0 if remainder else units.rectangle_u(one.m)
        return Length(number * one.m, hypot(number * one.m_u, ends))
    weighed = _OF.split(text.strip())
    if len(weighed) == 2:
        mass, (tex, tex_u) = units.mass(weighed[0]), units.measured_count(weighed[1])
        m = 1e6 * mass.kg / tex  # tex is grams, so 1e-6 kg, a metre times a thousand
        return Length(m, m * hypot(mass.kg_u / mass.kg, tex_u / tex))
    return Length(*units.length(text))
