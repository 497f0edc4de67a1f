"""Winding on: published bobbin-led frames, a lagging traveller, and twist drawn off over the end.

RIE is the Rieter Manual of Spinning, vol. 1, online; DRA is Draper, Facts and Figures for Textile Manufacturers
(1896). No published flyer-led example with both speeds was found: that row is our own construction.
"""

import numpy as np
import pytest

from whorlpulse.estimators import winding

INCH = 0.0254


def test_bobbin_led_roving_frame():
    # a solved roving-frame assignment, read: flyer 907.5 rpm, 18.44 m/min on an empty 60 mm bobbin: winding 97.9,
    # bobbin 1005.4 rpm; it uses 22/7 for pi, hence 0.15
    wound = winding.turns_for_length(18.44, 0.060)
    assert wound == pytest.approx(97.9, abs=0.15)
    bobbin = winding.bobbin_turns(907.5, wound, "bobbin")
    assert bobbin == pytest.approx(1005.4, abs=0.15)
    assert winding.wound_turns(907.5, bobbin, "bobbin") == pytest.approx(wound, rel=1e-12)
    assert winding.flyer_turns(bobbin, wound, "bobbin") == pytest.approx(907.5, rel=1e-12)


def test_coils_are_the_difference():
    # coils per minute of a bobbin-led frame: 822 - 749 = 73; read on two textile pages
    assert winding.wound_turns(749.0, 822.0, "bobbin") == 73.0


@pytest.mark.parametrize(("diameter", "behind", "traveller"), [(0.046, 104, 13396), (0.025, 191, 13309)])
def test_leading_spindle_lagging_traveller(diameter, behind, traveller):
    # RIE "Variation in the speed of the traveler", read: spindle 13 500 rpm, 15 m/min. The faster member holds
    # the package, so the algebra is that of a bobbin that leads; the traveller stands for the flyer.
    lag = winding.turns_for_length(15.0, diameter)
    assert lag == pytest.approx(behind, abs=0.5)
    assert winding.flyer_turns(13_500.0, lag, "bobbin") == pytest.approx(traveller, abs=0.5)


def test_lag_in_per_cent():
    # RIE, read: differences of 0.77 and 1.41 %
    for diameter, percent in ((0.046, 0.77), (0.025, 1.41)):
        assert 100 * winding.turns_for_length(15.0, diameter) / 13_500 == pytest.approx(percent, abs=0.006)


def test_flyer_led_from_the_same_numbers():
    # the frame above with the flyer leading: bobbin 809.67 rpm. Our construction, NOT published.
    wound = winding.turns_for_length(18.44, 0.060)
    bobbin = winding.bobbin_turns(907.5, wound, "flyer")
    assert bobbin == pytest.approx(809.67, abs=0.1)
    assert winding.flyer_turns(bobbin, wound, "flyer") == pytest.approx(907.5, rel=1e-12)


def test_a_growing_package_slows_a_leading_bobbin_and_speeds_a_trailing_one():
    # Encyclopaedia Britannica, 11th ed., "Jute", text read: R - r falls as d grows; signs only
    wound = np.array([winding.turns_for_length(18.44, d) for d in (0.04, 0.06, 0.08)])
    flyer = np.full(3, 907.5)
    assert (np.diff(winding.bobbin_turns(flyer, wound, "flyer")) > 0).all()
    assert (np.diff(winding.bobbin_turns(flyer, wound, "bobbin")) < 0).all()


@pytest.mark.parametrize(("tension", "lead"), [("scotch", "flyer"), ("irish", "bobbin"), ("double-drive", "bobbin")])
def test_which_leads(tension, lead):
    # trade meaning of the three tensions: common practice, no source
    assert winding.lead_of(tension) == lead


def test_twist_of_drawing_off_over_the_end():
    # RIE "Variation in yarn twist", read: 25 mm gives 12.73 turns/m (191 turns in 15 m)
    assert winding.over_end_twist_tpm(0.025) == pytest.approx(12.73, abs=0.005)
    assert winding.turns_for_length(15.0, 0.025) / 15 == pytest.approx(winding.over_end_twist_tpm(0.025), rel=1e-12)
    # DRA, read: one turn a circumference; 1.5 inches round lose 0.67, 3 inches 0.33 turns an inch
    for round_in, per_inch in ((1.5, 0.67), (3.0, 0.33)):
        diameter = round_in * INCH / np.pi
        assert winding.over_end_twist_tpm(diameter) * INCH == pytest.approx(per_inch, abs=0.005)
    # RIE "Speed relationships", read: a 106 mm bobbin, one turn every 333 mm, only 3 turns/m
    assert winding.wound_length_m(1.0, 0.106) == pytest.approx(0.333, abs=0.0005)
    assert winding.over_end_twist_tpm(0.106) == pytest.approx(3, abs=0.5)


@pytest.mark.parametrize("diameter", [0.0, -0.01, float("nan")])
def test_no_bobbin_without_a_diameter(diameter):
    with pytest.raises(ValueError, match="diameter"):
        winding.turns_for_length(1.0, diameter)
