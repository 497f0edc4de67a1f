"""The rounding rule: a figure is shown to the digit that its uncertainty supports, and no sentence lacks a figure."""

import re
from math import inf, nan

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from whorlpulse.estimators.measured import Measured
from whorlpulse.findings.catalogue import ANSWERS, ERRORS, NOTES, sentence
from whorlpulse.findings.report import note
from whorlpulse.views import figures


@pytest.mark.parametrize(
    ("value", "half", "shown"),
    [
        # GUM 7.2.6 (JCGM 100:2008, from memory): at most two significant digits of an uncertainty, the estimate cut
        # at the same place. GUM H.2's printed 127.732 with u 0.071 (read in GTC's example) is the pattern.
        (127.73217, 0.07107, ("127.73", "0.07")),
        (6.2149, 0.0131, ("6.215", "0.013")),
        (6.2149, 0.0951, ("6.21", "0.10")),
        (6.2149, 0.02, ("6.21", "0.02")),
        (204.72, 3.4, ("205", "3")),
        (204.72, 14.4, ("205", "14")),
        (1993.2, 34.0, ("1990", "30")),
        (-0.001, 0.4, ("0.0", "0.4")),
        (8.43282, 0.00009, ("8.43282", "0.00009")),
    ],
)
def test_value_and_half_width_end_at_one_digit(value, half, shown):
    assert figures.pair(value, half) == shown


@settings(deadline=None)
@given(value=st.floats(-1e4, 1e4), half=st.floats(1e-8, 1e4))
def test_what_is_shown_is_true(value, half):
    shown, shown_half = figures.pair(value, half)
    digit = 10.0 ** -figures.decimals_for(half)
    # the half width keeps one digit from 2 on, two below: so it is off by a fifth at most (2.5 shown as 2)
    assert float(shown_half) == pytest.approx(half, rel=0.2001)
    assert abs(float(shown) - value) <= 0.5000001 * digit
    assert digit <= half * 1.0000001
    assert "e" not in shown + shown_half


@pytest.mark.parametrize("half", [0.0, -1.0, inf, nan])
def test_no_half_width_no_plus_minus(half):
    assert figures.pair(6.2149, half) == ("6.21", "")
    assert "±" not in figures.measured(Measured(6.2149, 0.0))


@pytest.mark.parametrize(
    ("value", "shown"),
    [(12.345, "12.3"), (0.0123456, "0.0123"), (1981.4, "1981"), (7, "7"), (0.0, "0"), (nan, "unknown"), (100.0, "100")],
)
def test_a_figure_without_uncertainty(value, shown):
    assert figures.plain(value) == shown


def test_the_interval_and_not_the_standard_uncertainty_is_shown():
    # t for 4 degrees of freedom is 2.776 (GUM table G.2): 0.01 is shown as 0.03
    assert figures.measured(Measured(6.2149, 0.01, 4)) == "6.21 ± 0.03"
    assert figures.measured(Measured(100.0, 1.0), factor=0.0254) == "2.54 ± 0.05"


@pytest.mark.parametrize("key", [*ANSWERS, *NOTES, *ERRORS])
def test_every_sentence_can_be_filled(key):
    names = re.findall(r"{(\w+)}", sentence(key))
    said = figures.words(note(key, **dict.fromkeys(names, 3.25)))
    assert "{" not in said
    assert said.count("3.25") == len(names)
    assert "\n" not in said
    assert "  " not in said
