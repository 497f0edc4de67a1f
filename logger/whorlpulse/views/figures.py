"""The one rounding rule: a figure is shown to the digit that its uncertainty supports.

The half width of the 95 % interval keeps one significant digit, or two when the first is a 1 (there one digit alone
would be off by up to a half); the value is cut at the same place. A figure without an uncertainty of its own
keeps three significant digits, and whole numbers stay whole.
"""

from __future__ import annotations

from math import floor, isfinite, log10
from string import Formatter
from typing import TYPE_CHECKING, Any

from whorlpulse.findings.catalogue import sentence

if TYPE_CHECKING:
    from collections.abc import Mapping

    from whorlpulse.estimators.measured import Measured
    from whorlpulse.findings.report import Figure, Note

#: More than this many decimals are never shown, however small the half width.
_MOST_DECIMALS = 9
_PLAIN_DIGITS = 3


def decimals_for(half_width: float) -> int:
    """Return how many decimals a half width keeps; negative: digits before the point that are cut.

    half_width: a positive number.
    """
    place = floor(log10(half_width))
    first_is_one = half_width < 2.0 * 10.0**place
    return min(-place + first_is_one, _MOST_DECIMALS)


def cut(value: float, decimals: int) -> str:
    """Return value with so many decimals; with negative decimals rounded to tens, hundreds and so on."""
    text = f"{round(value, decimals):.{max(decimals, 0)}f}"
    return text[1:] if text.startswith("-") and not text.strip("-0.") else text


def pair(value: float, half_width: float) -> tuple[str, str]:
    """Return value and half width as texts cut at the same digit; the second is "" if it is no positive number."""
    if not (half_width > 0 and isfinite(half_width)):
        return plain(value), ""
    decimals = decimals_for(half_width)
    return cut(value, decimals), cut(half_width, decimals)


def measured(m: Measured, factor: float = 1.0) -> str:
    """Return `6.21 ± 0.01`, in another unit by `factor`."""
    value, half = pair(m.value * factor, m.half_width * factor)
    return f"{value} ± {half}" if half else value


def alone(m: Measured, factor: float = 1.0) -> str:
    """Return the value only, cut where its uncertainty begins."""
    return pair(m.value * factor, m.half_width * factor)[0]


def plain(value: float) -> str:
    """Return a figure that has no uncertainty of its own: three digits, or all of those before the point."""
    if isinstance(value, int):
        return str(value)
    if value == 0 or not isfinite(value):
        return "0" if value == 0 else "unknown"
    return cut(value, max(_PLAIN_DIGITS - 1 - floor(log10(abs(value)) + 1e-12), 0))


def given(value: float) -> str:
    """Return a figure as the user gave it, without digits that were never there."""
    return f"{value:.6g}"


def as_text(figure: Figure) -> str:
    """Return any figure of a note as text."""
    if isinstance(figure, str):
        return figure
    if isinstance(figure, int | float):
        return plain(figure)
    return measured(figure)


class _Sentence(Formatter):
    """Puts figures into a sentence; `{places:place}` puts the noun behind the number, in the plural if due."""

    def format_field(self, value: Any, format_spec: str) -> str:
        shown = as_text(value)
        if not format_spec:
            return shown
        return f"{shown} {format_spec}" + ("" if value == 1 else "s")


def filled(sentence: str, figures: Mapping[str, Figure]) -> str:
    """Return a sentence of any catalogue with these figures put in, rounded."""
    return _Sentence().vformat(sentence, (), figures)


def words(note: Note) -> str:
    """Return a note's sentence with its figures in."""
    return says(note.key, **note.figures)


def says(key: str, /, **figures: Figure) -> str:
    """Return the sentence of a key with these figures in."""
    return filled(sentence(key), figures)
