"""Winding on: which leads, and twist drawn off over the end; published frames are in end_to_end.

RIE is the Rieter Manual of Spinning, vol. 1, online; DRA is Draper, Facts and Figures for Textile Manufacturers
(1896).
"""

import numpy as np
import pytest

from whorlpulse.estimators import winding

INCH = 0.0254


@pytest.mark.parametrize(("tension", "lead"), [("scotch", "flyer"), ("irish", "bobbin"), ("double-drive", "bobbin")])
def test_which_leads(tension, lead):
    # trade meaning of the three tensions: common practice, no source
    assert winding.lead_of(tension) == lead


def test_twist_of_drawing_off_over_the_end():
    # RIE "Variation in yarn twist", read: 25 mm gives 12.73 turns/m (191 turns in 15 m)
    assert winding.over_end_twist_tpm(0.025) == pytest.approx(12.73, abs=0.005)
    assert 15.0 * winding.over_end_twist_tpm(0.025) == pytest.approx(191, abs=0.5)
    # DRA, read: one turn a circumference; 1.5 inches round lose 0.67, 3 inches 0.33 turns an inch
    for round_in, per_inch in ((1.5, 0.67), (3.0, 0.33)):
        diameter = round_in * INCH / np.pi
        assert winding.over_end_twist_tpm(diameter) * INCH == pytest.approx(per_inch, abs=0.005)
    # RIE "Speed relationships", read: a 106 mm bobbin, one turn every 333 mm, only 3 turns/m
    assert 1 / winding.over_end_twist_tpm(0.106) == pytest.approx(0.333, abs=0.0005)


@pytest.mark.parametrize("diameter", [0.0, -0.01, float("nan")])
def test_no_bobbin_without_a_diameter(diameter):
    with pytest.raises(ValueError, match="diameter"):
        winding.over_end_twist_tpm(diameter)
