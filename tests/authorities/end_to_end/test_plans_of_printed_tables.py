"""Printed twist tables through `plan`: a count and a twist factor in a plan file give the printed turns.

Howard & Bullough, Illustrated Catalogue of Cotton Machinery, Project Gutenberg #38301, pages 176 and 216 (read).
"""

import math

import pytest

#: p. 176: cotton number, multiplier (tpi over the root of the number), printed tpi.
SINGLES = [
    (1, 4.75, 4.75),
    (4, 3.25, 6.50),
    (16, 4.50, 18.00),
    (20, 4.75, 21.24),
    (20, 3.00, 13.41),  # 13.416: the print truncates
    (25, 3.50, 17.50),
    (30, 2.75, 15.06),
    (36, 3.25, 19.50),
    (40, 4.50, 28.46),
    (49, 2.75, 19.25),
]
#: p. 216, two-ply: single number, multiplier of the resultant, printed tpi.
TWO_PLY = [(1, 4, 2.83), (10, 5, 11.18), (24, 6, 20.78), (30, 5, 19.37), (50, 4, 20.0), (72, 6, 36.0), (100, 5, 35.36)]


@pytest.mark.parametrize(("number", "multiplier", "printed"), SINGLES)
def test_page_176(number, multiplier, printed, answer):
    said = answer("plan", f'[yarn]\ncount = "{number} Ne"\ntwist_factor = "{multiplier} tm"\n')
    # the print truncates now and then, so a little more than one unit of its last digit
    assert said["twist_tpi"] == pytest.approx(printed, abs=0.011)
    assert said["twist_tpm"] == pytest.approx(said["twist_tpi"] / 0.0254, rel=1e-12)  # an inch is 25.4 mm
    # tex = 590.5412 / Ne: ASTM D2260 Table 1, read
    assert said["count_tex"] == pytest.approx(590.5412 / number, rel=1e-6)


@pytest.mark.parametrize(("single", "multiplier", "printed"), TWO_PLY)
def test_page_216(single, multiplier, printed, answer):
    # two threads of the single number make half of it; the multiplier counts for the resultant
    said = answer("plan", f'[yarn]\ncount = "{single / 2} Ne"\ntwist_factor = "{multiplier} tm"\nplies = 2\n')
    assert said["twist_tpi"] == pytest.approx(printed, abs=0.006)


@pytest.mark.parametrize(("factor", "unit_of_count"), [("121.018 alpha_m", "Nm"), ("3826.94 alpha_tex", "tex")])
def test_multiplier_4_written_in_other_factors(factor, unit_of_count, answer):
    # multiplier 4 is 3826.94 turns/m root tex and 121.018 turns/m per root Nm: recomputed from 590.5412 and 25.4 mm
    for number in (12, 40):
        tex = 590.5412 / number
        count = {"Nm": 1000 / tex, "tex": tex}[unit_of_count]
        said = answer("plan", f'[yarn]\ncount = "{count!r} {unit_of_count}"\ntwist_factor = "{factor}"\n')
        assert said["twist_tpi"] == pytest.approx(4 * math.sqrt(number), rel=1e-5)
