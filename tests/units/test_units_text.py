"""Text with units: what is read, what is refused, and what pint says of the same."""

import subprocess
import sys

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from whorlpulse import units

LENGTH_UNITS = {
    "m": "meter",
    "cm": "centimeter",
    "mm": "millimeter",
    "in": "inch",
    "inch": "inch",
    "yd": "yard",
    "ft": "foot",
    "feet": "foot",
}
MASS_UNITS = {"g": "gram", "kg": "kilogram", "oz": "ounce", "lb": "pound"}
OUTSIDE = pint.UnitRegistry()
READERS = {
    units.length: "510 mm",
    units.mass: "100 g",
    units.twist: "5.2 tpi",
    units.count: "12 Nm",
    units.read_twist_factor: "3.5 tm",
    units.percent: "10 %",
}


@pytest.mark.parametrize("unit", LENGTH_UNITS)
@given(number=st.decimals(min_value="0.001", max_value="99999", places=3))
def test_lengths_equal_pints(unit, number):
    outside = OUTSIDE.Quantity(float(number), LENGTH_UNITS[unit]).to("meter").magnitude
    assert units.length(f"{number} {unit}").m == pytest.approx(outside, rel=1e-14)


@pytest.mark.parametrize("unit", MASS_UNITS)
def test_masses_equal_pints(unit):
    outside = OUTSIDE.Quantity(3.7, MASS_UNITS[unit]).to("kilogram").magnitude
    read = units.mass(f"3.7 {unit}")
    assert read.kg == pytest.approx(outside, rel=1e-14)
    assert read.kg_u == pytest.approx(outside / 3.7 * 0.1 / 12**0.5, rel=1e-12)


def test_turns_per_inch_equal_pints_when_turns_are_counted():
    # pint's turn is 2 pi rad: to("1/meter") would be 6.28 times too much, to("turn/meter") is right
    outside = OUTSIDE.Quantity(10, "turn/inch").to("turn/meter").magnitude
    assert units.twist("10 tpi") == pytest.approx(outside, rel=1e-14)
    assert units.tpi_from_tpm(units.tpm_from_tpi(7.3)) == pytest.approx(7.3, rel=1e-15)
    assert units.twist("205 tpm") == 205.0


def test_nm_is_the_metric_count_not_the_newton_metre():
    assert units.count("1 Nm") == pytest.approx(1000.0, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "metres", "step_m"),
    [
        ("510 mm", 0.510, 1e-3),
        ("10.00 cm", 0.1, 1e-4),
        ("2.31m", 2.31, 1e-2),
        (" 2.5  mm ", 0.0025, 1e-4),
        ("3 in.", 0.0762, 0.0254),
        ("1 1/8 in", 1.125 * 0.0254, 0.0254 / 8),
        ("1-1/8 in", 1.125 * 0.0254, 0.0254 / 8),
        ("7/8 inch", 0.875 * 0.0254, 0.0254 / 8),
        ("5e2 mm", 0.5, 0.1),
        ("1.50E1 CM", 0.15, 1e-3),
        (".5 m", 0.5, 0.1),
    ],
)
def test_a_length_is_as_sure_as_its_last_digit(text, metres, step_m):
    read = units.length(text)
    assert read.m == pytest.approx(metres, rel=1e-14)
    assert read.m_u == pytest.approx(step_m / 12**0.5, rel=1e-12)


@pytest.mark.parametrize(
    "text", ["83 mm +- 0.5 mm", "83 mm ± 0.5 mm", "83±0.5 mm", "83 mm +/- 0.05 cm", "83 mm +- 0.5"]
)
def test_a_stated_uncertainty_is_taken_as_standard_uncertainty(text):
    assert units.length(text) == pytest.approx((0.083, 0.0005), rel=1e-14)


def test_a_log_may_say_zero_length():
    assert units.length("0 cm", allow_zero=True).m == 0.0
    assert units.length("0.00 m", allow_zero=True).m == 0.0


@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.__name__)
def test_spelling_is_not_a_matter_of_case_or_space(reader):
    example = READERS[reader]
    plain = reader(example)
    squeezed, shouted = reader(example.replace(" ", "")), reader(example.upper())
    assert squeezed == shouted == plain


@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.__name__)
@pytest.mark.parametrize(
    ("number", "why"),
    [
        ("-3", "negative"),
        ("-1/2", "negative"),
        ("0", "zero"),
        ("0.000", "zero"),
        ("nan", "can't be read"),
        ("inf", "can't be read"),
        ("1e999", "out of all measure"),
        ("1e-300", "out of all measure"),
        ("2,5", "decimal comma"),
        ("1/0", "divides by zero"),
        ("", "can't be read"),
        ("1 2", "can't be read"),
        ("--5", "can't be read"),
        ("١٢", "can't be read"),
        ("9" * 500, "too long"),
    ],
)
def test_what_is_no_positive_number_is_refused(reader, number, why):
    unit = READERS[reader].split()[1]
    with pytest.raises(units.UnitsError, match=why) as refused:
        reader(f"{number} {unit}")
    assert READERS[reader] in str(refused.value)  # an example of what would be understood


@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.__name__)
@pytest.mark.parametrize("text", ["5", "5 furlong", "5 kelvin", "5 m**2", "5 \x1b[2J", "5 mm mm", ""])
def test_what_has_no_unit_of_its_kind_is_refused(reader, text):
    with pytest.raises(units.UnitsError) as refused:
        reader(text)
    assert "\x1b" not in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    "text", ["5 mm +- 1 mm +- 1 mm", "5 mm +- -1 mm", "5 mm +- 1 kg", "5 mm +-", "+- 5 mm", "5 +- 1"]
)
def test_a_wrong_uncertainty_is_refused(text):
    with pytest.raises(units.UnitsError):
        units.length(text)


def test_more_than_all_is_refused():
    assert units.percent("100 %") == 1.0
    with pytest.raises(units.UnitsError, match="more than 100"):
        units.percent("101 %")


def test_an_unknown_count_cannot_be_shown():
    with pytest.raises(units.UnitsError, match="furlong"):
        units.count_from_tex(20.0, "furlong")


@settings(deadline=None)  # the first count loads pint
@given(text=st.text(max_size=80))
def test_any_text_is_a_value_or_a_units_error(text):
    for reader in READERS:
        complaint, read = "", None
        try:
            read = reader(text)
        except units.UnitsError as refused:
            complaint = str(refused)
        assert complaint.isprintable()
        assert len(complaint) < 400
        if not complaint:
            value = read if isinstance(read, float) else read[0]
            assert 0 < value < float("inf")


@given(number=st.floats(min_value=1e-3, max_value=1e5), kind=st.sampled_from(["tm", "alpha_m", "alpha_tex"]))
def test_twist_factors_come_back(number, kind):
    tpm = units.twist_factor(f"{number!r} {kind}", 37.0)
    assert units.twist_factor_from_tpm(tpm, 37.0, kind) == pytest.approx(number, rel=1e-12)


def test_pint_is_imported_only_when_it_is_needed():
    code = (
        "import sys\nfrom whorlpulse import units\n"
        "units.length('510 mm'); units.twist('5 tpi'); units.percent('10 %')\n"
        "assert 'pint' not in sys.modules, 'too early'\n"
        "units.count('12 Nm')\nassert 'pint' in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 0, done.stderr
