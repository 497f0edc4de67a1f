"""Yarn counts against the printed factors of ASTM D2260-03(2013) Table 1, old tables, and pint.

D2260 was read as reproduced on the standard's pages; other sources stand beside their rows.
"""

import pint
import pytest

from whorlpulse import units
from whorlpulse.estimators import plying


@pytest.mark.parametrize(
    ("unit", "tex_of_one", "tolerance"),
    [
        ("Ne", 590.5412, 1e-4),  # D2260: 0.590541 per Nm
        ("worsted", 885.8119, 1e-4),  # D2260: 0.885812
        ("run", 310.0342, 1e-4),  # D2260: 0.310034
        ("cut", 1653.5155, 1e-3),  # D2260: 1.65352
        ("Nm", 1000.0, 1e-9),  # D2260
        ("yd/lb", 496054.65, 0.01),  # D2260: 496.055
        ("tex", 1.0, 1e-12),
        ("den", 1 / 9, 1e-12),  # D2260: nine deniers a tex
        ("m/100g", 100_000.0, 1e-6),  # grist: one metre in 100 g
    ],
)
def test_tex_of_one(unit, tex_of_one, tolerance):
    assert units.count(f"1 {unit}") == pytest.approx(tex_of_one, abs=tolerance)
    assert units.count_from_tex(tex_of_one, unit) == pytest.approx(1.0, rel=max(1e-9, tolerance / tex_of_one))


@pytest.mark.parametrize(
    ("given", "unit", "expected", "tolerance"),
    [
        ("1 Ne", "worsted", 1.5, 1e-12),  # D2260 Table 1, exact
        ("1 Ne", "run", 0.525, 1e-12),
        ("1 Ne", "cut", 2.8, 1e-12),
        ("1 worsted", "run", 0.35, 1e-12),
        ("1 worsted", "cut", 1.86667, 5e-6),
        ("1 cut", "run", 0.1875, 1e-12),
        ("1 Ne", "yd/lb", 840, 1e-9),
        ("1 worsted", "yd/lb", 560, 1e-9),
        ("1 run", "yd/lb", 1600, 1e-9),
        ("1 cut", "yd/lb", 300, 1e-9),
        ("1 Nm", "yd/lb", 496.055, 5e-4),
        ("10 Ne", "worsted", 15, 1e-9),  # D2260 example 1
        ("30 tex", "Ne", 19.7, 0.05),  # D2260 example 2
        ("1 Ne", "den", 5315, 0.2),  # many tables: denier times cotton count is 5315
        ("20 Ne", "worsted", 30, 1e-9),  # Brooks, Cotton Manufacturing, "Wrapping"; read
        ("20 Ne", "cut", 56, 1e-9),
        ("1000 yd/lb", "m/100g", 201.591, 5e-4),  # arithmetic
        ("1000 yd/lb", "tex", 496.055, 5e-4),
    ],
)
def test_between_counts(given, unit, expected, tolerance):
    assert units.count_from_tex(units.count(given), unit) == pytest.approx(expected, abs=tolerance)


def test_the_french_count_of_brooks():
    # French count = km per 500 g, half of Nm; 20s cotton are 16.93 French by Brooks (read)
    assert units.count_from_tex(units.count("20 Ne"), "Nm") / 2 == pytest.approx(16.93, abs=0.01)


@pytest.mark.parametrize(
    ("cotton_counts", "resultant"),
    [((40, 20), 13.33), ((40, 80, 120), 21.81), ((300, 300, 300), 100)],  # Brooks, same page, read
)
def test_folding_unequal_yarns(cotton_counts, resultant):
    tex = plying.resultant_count_tex([units.count(f"{n} Ne") for n in cotton_counts])
    # Brooks prints 21.81 for 21.8182: he truncates
    assert units.count_from_tex(tex, "Ne") == pytest.approx(resultant, abs=0.01)


def grains(yards: float, grains: float) -> str:
    """The count of so many yards weighing so many grains, 7000 a pound."""
    return f"{yards * 7000 / grains:.9g} yd/lb"


@pytest.mark.parametrize(
    ("yards", "weight_gr", "cotton_count", "tolerance"),
    [
        (120, 25, 40, 1e-6),  # Brooks: a lea of 120 yards that weighs 25 grains; read
        (240, 40, 50, 1e-6),  # read in the notes of a counting program for mills
        (9240, 7000 / 4, 44, 1e-6),  # Brooks: 9240 yards of 44s weigh a quarter of a pound
        # Howard & Bullough, Illustrated Catalogue of Cotton Machinery, p. 179; read
        (120, 8, 125.0, 0.05),
        (120, 10, 100, 0.05),
        (120, 12.5, 80.00, 0.006),
        (120, 16, 62.50, 0.006),
        (120, 20, 50.00, 0.006),
        (120, 25, 40.00, 0.006),
        (120, 28.2, 35.46, 0.006),
        (120, 33, 30.30, 0.006),
        # the same, p. 136: roving, 12 yards
        (12, 400, 0.25, 0.006),
        (12, 200, 0.50, 0.006),
        (12, 100, 1.00, 0.006),
        (12, 83.33, 1.20, 0.006),
    ],
)
def test_count_from_yards_and_grains(yards, weight_gr, cotton_count, tolerance):
    tex = units.count(grains(yards, weight_gr))
    assert units.count_from_tex(tex, "Ne") == pytest.approx(cotton_count, abs=tolerance)


def test_grains_a_hundred_and_twenty_yards():
    # D2260: one American grain is 0.590541 tex and 5.31487 den
    tex = units.count(grains(120, 1))
    assert tex == pytest.approx(0.590541, abs=1e-6)
    assert units.count_from_tex(tex, "den") == pytest.approx(5.31487, abs=5e-6)


def test_jute_spyndle_and_yorkshire_skein_by_their_yards():
    # lb per spyndle of 14 400 yd: 8 lb is 275.59 tex (34.45 each; read in a textile calculation page)
    assert units.count("1800 yd/lb") == pytest.approx(8 * 34.45, abs=8 * 0.005)
    # Yorkshire skein, 256 yd a pound, printed 1938 tex; read
    assert units.count("256 yd/lb") == pytest.approx(1938, abs=0.5)


@pytest.mark.parametrize(("given", "rounded_tex"), [("30 Ne", 20), ("20 Ne", 30), ("50 Nm", 20)])
def test_rounded_tex_of_iso_2947(given, rounded_tex):
    # ISO 2947: the recommended rounded tex lies within 2 % of the exact one (rule read; these rows from memory)
    assert units.count(given) == pytest.approx(rounded_tex, rel=0.02)


@pytest.mark.parametrize(
    ("given", "pint_unit", "number"),
    [
        ("12 Nm", "number_meter", 12),
        ("20 Ne", "number_english", 20),
        ("30 tex", "tex", 30),
        ("150 den", "denier", 150),
        ("1000 yd/lb", "yard / pound", 1000),
        ("8 worsted", "yard / pound", 8 * 560),
        ("5 run", "yard / pound", 5 * 1600),
        ("10 cut", "yard / pound", 10 * 300),
        ("200 m/100g", "meter / gram", 2),
    ],
)
def test_counts_against_a_bare_pint_registry(given, pint_unit, number):
    outside = pint.UnitRegistry().Quantity(number, pint_unit).to("tex", "textile").magnitude
    assert units.count(given) == pytest.approx(outside, rel=1e-12)
