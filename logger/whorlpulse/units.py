"""Text with units to SI numbers, and back to the units in which spinners think.

Everything inside the package is in metres, kilograms, turns per metre and tex; only the command line, the
views and the live page meet other units, and they meet them here. Mass and yarn count stand on pint, whose
import costs a quarter of a second and so happens in the function that needs it; plain lengths and twists use
the exact factors below (the inch is 25.4 mm by definition), which tests hold equal to pint. One file because a
unit's spelling must mean the same wherever it is typed.

A written length carries the standard uncertainty of its last digit: a value rounded to steps of q is a
rectangle of full width q, so u = q / sqrt(12) (GUM, JCGM 100:2008, 4.3.7 and F.2.2.1; from memory).
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import TYPE_CHECKING, Any, Final, NamedTuple, NoReturn

if TYPE_CHECKING:
    import pint

INCH_M: Final = 0.0254
#: Metres in one of each unit; spellings are compared in lower case.
_METRES: Final = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
    "cm": 0.01,
    "mm": 0.001,
    **dict.fromkeys(("in", "inch", "inches"), INCH_M),
    **dict.fromkeys(("yd", "yard", "yards"), 0.9144),
    **dict.fromkeys(("ft", "foot", "feet"), 0.3048),
}
#: Our spelling in lower case -> pint's name.
_MASS: Final = {
    "g": "gram",
    "kg": "kilogram",
    **dict.fromkeys(("oz", "ounce", "ounces"), "ounce"),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), "pound"),
}
#: The yarn counts of the plan file -> pint's name. pint's `Nm` is the metric count, never the newton metre.
_COUNTS: Final = {
    "nm": "number_meter",
    "ne": "number_english",
    "tex": "tex",
    "den": "denier",
    "worsted": "worsted_count",
    "run": "woollen_run",
    "cut": "woollen_cut",
    "yd/lb": "yard / pound",
    "m/100g": "metre_per_hectogram",
}
#: What pint lacks: hanks of 560, runs of 1600, cuts of 300 yards a pound (ASTM D2260 Table 1), and grist.
_DEFINITIONS: Final = (
    "worsted_count = 560 yard / pound",
    "woollen_run = 1600 yard / pound",
    "woollen_cut = 300 yard / pound",
    "metre_per_hectogram = 10 meter / kilogram",
)
_NE_TO_TEX: Final = 0.45359237e6 / (840 * 0.9144)
#: Turns per metre times the square root of tex, for a twist factor of one.
_TWIST_FACTORS: Final = {
    "tm": math.sqrt(_NE_TO_TEX) / INCH_M,
    "alpha_m": math.sqrt(1000.0),
    "alpha_tex": 1.0,
}
_LONGEST: Final = 60
_NUMBER: Final = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_FRACTION: Final = r"(?:[0-9]{1,6}[ -])?[0-9]{1,6}/[0-9]{1,6}"
_VALUE: Final = re.compile(rf"(?P<value>[+-]?(?:{_FRACTION}|{_NUMBER}))\s*(?P<unit>[^0-9\s.,+±-].*)?")
_PLUS_MINUS: Final = re.compile(r"±|\+/?-")


class UnitsError(ValueError):
    """A text that is not a value with a unit; the message says what was read and what is understood."""


class Metres(NamedTuple):
    """A length in metres and its standard uncertainty in metres; `rig.Length(*length(text))`."""

    m: float
    m_u: float


class Kilograms(NamedTuple):
    """A mass in kilograms and its standard uncertainty in kilograms."""

    kg: float
    kg_u: float


class TwistFactor(NamedTuple):
    """A twist factor as written: its value and its kind, `tm`, `alpha_m` or `alpha_tex`."""

    value: float
    kind: str


class _Written(NamedTuple):
    """A number as written, the step of its last digit, and the unit behind it (lower case, "" if none)."""

    value: float
    step: float
    unit: str


def length(text: str, *, allow_zero: bool = False) -> Metres:
    """Return the length that a text like `510 mm`, `10.00 cm`, `1 1/8 in` or `83 mm +- 0.5 mm` states.

    Units: m, cm, mm, in, yd, ft. The figure after +- (or ±) is a standard uncertainty, in its own unit or the
    value's; without it the last digit gives it. allow_zero: for a log's `length` line. Raises UnitsError.
    """
    ask = _Ask(text, "a length", "m, cm, mm, in, yd or ft", "510 mm")
    return Metres(*_with_uncertainty(ask, _METRES, allow_zero=allow_zero))


def mass(text: str) -> Kilograms:
    """Return the mass that a text like `100 g` or `3.5 oz` states; units g, kg, oz, lb. Raises UnitsError."""
    ask = _Ask(text, "a mass", "g, kg, oz or lb", "100 g")
    kilograms = {unit: float(_registry().Quantity(1.0, name).to("kg").magnitude) for unit, name in _MASS.items()}
    return Kilograms(*_with_uncertainty(ask, kilograms))


def density(text: str) -> float:
    """Return kilograms a cubic metre from `1.31 g/cm3` or `1310 kg/m3`. Raises UnitsError."""
    ask = _Ask(text.replace("³", "3"), "a density", "g/cm3 or kg/m3", "1.31 g/cm3")
    written = _one_value(ask, ("g/cm3", "kg/m3"))
    return 1000.0 * written.value if written.unit == "g/cm3" else written.value


def twist(text: str) -> float:
    """Return turns per metre from `5.2 tpi` (turns per inch) or `205 tpm` (per metre). Raises UnitsError."""
    ask = _Ask(text, "a twist", "tpi (turns per inch) or tpm (turns per metre)", "5.2 tpi")
    written = _one_value(ask, ("tpi", "tpm"))
    return tpm_from_tpi(written.value) if written.unit == "tpi" else written.value


def measured_twist(text: str) -> tuple[float, float]:
    """Return turns per metre and their standard uncertainty from `5.2 tpi` or `205 tpm +- 3`. Raises UnitsError."""
    ask = _Ask(text, "a twist", "tpi (turns per inch) or tpm (turns per metre)", "5.2 tpi")
    return _with_uncertainty(ask, {"tpi": 1.0 / INCH_M, "tpm": 1.0})


def count(text: str) -> float:
    """Return tex (grams a kilometre) from a yarn count such as `12 Nm`, `20 Ne`, `30 tex` or `1000 yd/lb`.

    Also den, worsted (560 yd hanks), run (1600 yd), cut (300 yd) and m/100g. Raises UnitsError.
    """
    understood = "Nm, Ne, tex, den, worsted, run, cut, yd/lb or m/100g"
    written = _one_value(_Ask(text, "a yarn count", understood, "12 Nm"), tuple(_COUNTS))
    quantity = _registry().Quantity(written.value, _COUNTS[written.unit])
    return float(quantity.to("tex", "textile").magnitude)


def measured_count(text: str) -> tuple[float, float]:
    """Return tex and its standard uncertainty from a count such as `12.0 Nm` or `1200 m/100g +- 30`.

    Without a figure after +- the last digit gives the uncertainty; relatively it is the same in every unit (GUM 5.1.6).
    Raises UnitsError.
    """
    tex = count(_PLUS_MINUS.split(text)[0])
    understood = "Nm, Ne, tex, den, worsted, run, cut, yd/lb or m/100g"
    value, value_u = _with_uncertainty(_Ask(text, "a yarn count", understood, "12 Nm"), dict.fromkeys(_COUNTS, 1.0))
    return tex, tex * value_u / value


def count_from_tex(tex: float, unit: str) -> float:
    """Return tex as a count in `unit`, one of the spellings that `count` reads; UnitsError for another."""
    if unit.lower() not in _COUNTS:
        raise UnitsError(f"{_shown(unit)} is not a yarn count; understood are {', '.join(_COUNTS)}.")
    return float(_registry().Quantity(tex, "tex").to(_COUNTS[unit.lower()], "textile").magnitude)


def read_twist_factor(text: str) -> TwistFactor:
    """Return the twist factor that a text like `3.5 tm`, `115 alpha_m` or `3600 alpha_tex` states."""
    understood = "tm (tpi / sqrt(Ne)), alpha_m (tpm / sqrt(Nm)) or alpha_tex (tpm * sqrt(tex))"
    written = _one_value(_Ask(text, "a twist factor", understood, "3.5 tm"), tuple(_TWIST_FACTORS))
    return TwistFactor(written.value, written.unit)


def twist_factor(text: str, tex: float) -> float:
    """Return the turns per metre that a twist factor asks for in a yarn of `tex`. Raises UnitsError.

    tm = tpi / sqrt(Ne), alpha_m = tpm / sqrt(Nm), alpha_tex = tpm * sqrt(tex), all multiples of the last.
    """
    return twist_of_factor(read_twist_factor(text), tex)


def twist_of_factor(factor: TwistFactor, tex: float) -> float:
    """Return the turns per metre that a twist factor, already read, asks for in a yarn of `tex`."""
    return factor.value * _TWIST_FACTORS[factor.kind] / math.sqrt(tex)


def twist_factor_from_tpm(twist_tpm: float, tex: float, kind: str) -> float:
    """Return the twist factor of `kind` (tm, alpha_m, alpha_tex) of a yarn of `tex` with `twist_tpm`."""
    return twist_tpm * math.sqrt(tex) / _TWIST_FACTORS[kind]


def percent(text: str) -> float:
    """Return the fraction that a text like `10 %` states, above 0 and at most 1. Raises UnitsError."""
    ask = _Ask(text, "a percentage", "%", "10 %")
    fraction = _one_value(ask, ("%",)).value / 100.0
    if fraction > 1.0:
        ask.refuse("is more than 100 %")
    return fraction


def tpm_from_tpi(twist_tpi: float) -> float:
    """Return turns per metre from turns per inch."""
    return twist_tpi / INCH_M


def tpi_from_tpm(twist_tpm: float) -> float:
    """Return turns per inch from turns per metre."""
    return twist_tpm * INCH_M


class _Ask(NamedTuple):
    """A text to be read, and what to say when it cannot be."""

    text: str
    what: str
    understood: str
    example: str

    def refuse(self, why: str) -> NoReturn:
        """Raise the one sentence: what was read, what is understood, an example."""
        raise UnitsError(
            f"{_shown(self.text)} {why}; {self.what} is a positive number with its unit, "
            f'{self.understood}, for example "{self.example}".'
        )


def _shown(text: str) -> str:
    cut = text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."
    return '"' + "".join(c if c.isprintable() else "?" for c in cut) + '"'


def _written(ask: _Ask, text: str) -> _Written:
    """Take a text apart into number, step of its last digit, and unit."""
    found = _VALUE.fullmatch(text.strip())
    if found is None:
        ask.refuse("has a decimal comma: write a point" if re.search("[0-9],[0-9]", text) else "can't be read")
    number, unit = found["value"], (found["unit"] or "").strip().lower().rstrip(".")
    if "/" in number:
        value, step = _fraction(ask, number)
    else:
        value, step = float(number), last_digit(number)
    return _Written(value, step, re.sub(r"\s*/\s*", "/", unit).replace("100 g", "100g"))


def _fraction(ask: _Ask, number: str) -> tuple[float, float]:
    """Read `7/8` or `1 1/8`; the step is one part, as a tape measure divided so would show it."""
    if number.startswith("-"):
        ask.refuse("is negative")
    *whole, part = re.split("[ -]", number.lstrip("+"))
    above, below = (int(n) for n in part.split("/"))
    if below == 0:
        ask.refuse("divides by zero")
    return sum(int(w) for w in whole) + above / below, 1.0 / below


def last_digit(number: str) -> float:
    """Return the value of one unit of the last digit written: 0.01 for `6.21`, 1 for `510`, 100 for `5e2`."""
    mantissa, _, power = number.lower().partition("e")
    return float(f"1e{int(power or 0) - len(mantissa.partition('.')[2])}")


def _one_value(ask: _Ask, units: tuple[str, ...]) -> _Written:
    """Read a positive number with one of `units`."""
    if len(ask.text) > _LONGEST:
        ask.refuse("is too long")
    written = _written(ask, ask.text)
    _check(ask, written, units, allow_zero=False)
    return written


def _check(ask: _Ask, written: _Written, units: tuple[str, ...], *, allow_zero: bool) -> None:
    if not written.unit:
        ask.refuse("has no unit")
    if written.unit not in units:
        ask.refuse(f"has an unknown unit {_shown(written.unit)}")
    if written.value < 0:
        ask.refuse("is negative")
    if written.value == 0 and not allow_zero:
        ask.refuse("is zero")
    if not 1e-9 < written.value < 1e12 and written.value != 0:
        ask.refuse("is out of all measure")


def _with_uncertainty(ask: _Ask, units: dict[str, float], *, allow_zero: bool = False) -> tuple[float, float]:
    """Read `value unit` or `value [unit] +- uncertainty [unit]`; units: SI value of one of each."""
    if len(ask.text) > _LONGEST:
        ask.refuse("is too long")
    parts = _PLUS_MINUS.split(ask.text)
    if len(parts) > 2:
        ask.refuse("has more than one uncertainty")
    written = [_written(ask, part) for part in parts]
    known = next((w.unit for w in written if w.unit), "")
    written = [w if w.unit else w._replace(unit=known) for w in written]
    for w, zero in zip(written, (allow_zero, True), strict=False):
        _check(ask, w, tuple(units), allow_zero=zero)
    value = written[0].value * units[written[0].unit]
    if len(written) == 2:
        return value, written[1].value * units[written[1].unit]
    return value, rectangle_u(written[0].step * units[written[0].unit])


def rectangle_u(full_width: float) -> float:
    """Return the standard uncertainty of a value known to lie somewhere in a step of `full_width`."""
    return full_width / math.sqrt(12.0)


@cache
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    registry: pint.UnitRegistry[Any] = pint.UnitRegistry()
    for definition in _DEFINITIONS:
        registry.define(definition)
    return registry
