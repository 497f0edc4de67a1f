"""--total as a spinner knows it: rounds of a reel, mass of a count; against printed yarn tables and pint."""

import math

import pint
import pytest

from whorlpulse import units
from whorlpulse.cli.exits import InputError
from whorlpulse.cli.total_option import total_length, total_option

YD = 0.9144  # exact
GRAIN_G = 0.06479891  # exact, 1/7000 of 453.59237 g


@pytest.mark.parametrize(
    ("text", "yards"),
    [
        # C. P. Brooks, Cotton Manufacturing, "Wrapping": 9240 yd of 44s weigh a quarter of a pound;
        # a lea of 120 yd weighing 25 grains is 40s
        ("0.25 lb of 44 Ne", 9240.0),
        (f"{25 * GRAIN_G:.8f} g of 40 Ne", 120.0),
        # the definition of the count (ASTM D2260 table 1): 30 worsted are 30 hanks of 560 yd in a pound
        ("1 lb of 30 worsted", 30 * 560.0),
        ("1 lb of 1600 yd/lb", 1600.0),
        ("1 lb of 1 run", 1600.0),
    ],
)
def test_mass_of_a_count_against_printed_yarn(text, yards):
    assert total_length(text).m == pytest.approx(yards * YD, rel=1e-6)


def test_mass_of_a_grist_against_pint():
    ureg = pint.UnitRegistry()
    theirs = (ureg("104 g") * ureg("1200 m") / ureg("100 g")).to("m").magnitude
    assert total_length("104 g of 1200 m/100g").m == pytest.approx(theirs, rel=1e-12)


def test_mass_and_count_carry_their_last_digits():
    found = total_length("104 g of 12.0 Nm")
    # GUM 4.3.7: 1 g and 0.1 Nm are full widths of rectangles; 5.1.6: relative parts add in quadrature
    relative = math.hypot(1 / math.sqrt(12) / 104, 0.1 / math.sqrt(12) / 12)
    assert found.m == pytest.approx(1248.0)
    assert found.m_u == pytest.approx(1248.0 * relative)
    stated = total_length("104 g +- 0.5 g of 12.0 Nm +- 0.6")
    assert stated.m_u == pytest.approx(1248.0 * math.hypot(0.5 / 104, 0.05))


def test_rounds_of_a_reel():
    found = total_length("96 x 1.500 yd")
    assert found.m == pytest.approx(144 * YD)
    # one reel's error is in every round; the end lies anywhere in one round
    assert found.m_u == pytest.approx(math.hypot(96 * 0.001 * YD, 1.5 * YD) / math.sqrt(12))
    left = total_length("96 x 1.500 yd + 0.80 yd")
    assert left.m == pytest.approx(144.8 * YD)
    assert left.m_u == pytest.approx(math.hypot(96 * 0.001 * YD, 0.01 * YD) / math.sqrt(12))
    assert total_length("96x1.500 yd") == found
    assert total_length("96 × 1.500 yd") == found


def test_a_plain_length_is_what_it_was():
    found = total_length("23.4 m +- 0.2 m")
    assert (found.m, found.m_u) == tuple(units.length("23.4 m +- 0.2 m"))
    assert total_option(None) is None


@pytest.mark.parametrize("text", ["0 x 1 m", "5 x 3", "104 g of", "104 of 12 Nm", "10 m + x", "x", "", "1 x 2 x 3 m"])
def test_what_is_no_length_is_refused_in_one_line_that_names_the_option(text):
    with pytest.raises(InputError) as caught:
        total_option(text)
    assert str(caught.value).startswith("--total: ")
    assert "\n" not in str(caught.value)
