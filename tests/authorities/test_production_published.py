"""Pace, hours and mass of the plan against a mill's printed production examples, and two speed identities.

HB is Howard & Bullough, Illustrated Catalogue of Cotton Machinery, Project Gutenberg #38301.
"""

import math

import pytest

from whorlpulse import units
from whorlpulse.estimators import plan, plying
from whorlpulse.estimators.band_ratio import RatioWithU, band_ratio, slip_of
from whorlpulse.rig import Length


def test_minutes_to_fill_a_bobbin_of_roving():
    # HB p. 129, read: 4 hank at 2.40 tpi, a 10 oz bobbin, flyer 1150 rpm: 157.8 min, 3.47 sets in ten hours
    # with 15 min a doff, 2.17 lb a spindle
    yarn = plan.YarnPlan(units.twist("2.40 tpi"), units.count("4 Ne"))
    ten_ounces = units.mass("10 oz").kg
    (bobbin,) = plan.per_whorl(yarn, [("frame", RatioWithU(11.5, 0.0))], 100.0, mass_kg=ten_ounces)
    minutes = 60 * bobbin.hours
    assert minutes == pytest.approx(157.8, abs=0.05)
    assert 600 / (minutes + 15) == pytest.approx(3.47, abs=0.005)
    assert 600 / (minutes + 15) * ten_ounces / units.mass("1 lb").kg == pytest.approx(2.17, abs=0.005)


@pytest.mark.parametrize(
    ("roll_rpm", "roll_round_in", "cotton_count", "plies", "minutes", "efficiency", "pounds", "tolerance"),
    [
        (134.0, 3.1416, 20, 1, 3600, 0.90, 2.26, 0.006),  # HB p. 165, read
        (74, 4.7124, 24, 2, 600, 0.92, 0.53, 0.004),  # HB p. 207, read
    ],
)
def test_pounds_a_spindle(roll_rpm, roll_round_in, cotton_count, plies, minutes, efficiency, pounds, tolerance):
    tex = plying.resultant_count_tex([units.count(f"{cotton_count} Ne")] * plies)
    length_m = roll_rpm * units.length(f"{roll_round_in} in").m * minutes * efficiency
    printed = plan.length_of_mass_m(pounds * units.mass("1 lb").kg, tex)
    assert length_m / printed == pytest.approx(1.0, abs=tolerance / pounds)


def test_friction_spinning_by_ratio_and_slip():
    # GATE 2005/TF/49, read: drum 44 mm at 5000 rpm on a yarn of 0.22 mm, 80 % slip, 250 m/min: 4000, then 800 tpm
    ratio = band_ratio(Length(0.044), Length(0.00022), Length(0.0)).value
    for slip, tpm in ((0.0, 4000.0), (0.8, 800.0)):
        assert slip_of(tpm * 250 / 5000, ratio) == pytest.approx(slip, abs=1e-12)


def test_false_twist_above_a_flyer():
    # GATE 2011/TF/27, read: top 10 mm, roving 2.5 mm, 1000 rpm, 20 m/min, 50 % slip: 4000 rpm, 100 turns/m
    ratio = band_ratio(Length(0.010), Length(0.0025), Length(0.0)).value
    assert 1000 * ratio == pytest.approx(4000, rel=1e-12)
    assert slip_of(100 * 20 / 1000, ratio) == pytest.approx(0.5, rel=1e-12)


@pytest.mark.parametrize(("pulley_rpm", "spindle_rpm"), [(400, 1081.08), (336, 908.10), (444, 1200.00), (560, 1513.51)])
def test_spindle_turns_for_one_of_the_pulley(pulley_rpm, spindle_rpm):
    # HB p. 112, read: one turn of the pulley is 2.7027 of the spindle (100/37); 444 is printed 520 by mistake
    ratio = band_ratio(Length(1.00), Length(0.37), Length(0.0)).value
    assert ratio == pytest.approx(2.7027, abs=5e-5)
    # one row is printed 908.10 where 100/37 gives 908.108
    assert pulley_rpm * ratio == pytest.approx(spindle_rpm, abs=0.02)


def test_draft_per_treadle_is_ratio_over_twist():
    # F. L. Lincoln, Instruction Book on Ring Spinning (1885), sec. 37, read: 86 spindle turns for one turn of a
    # roll of 3.14 inches round make 27.38 tpi; taken the other way: one such turn delivers 3.14 inches
    yarn = plan.YarnPlan(units.twist("27.38 tpi"))
    (row,) = plan.per_whorl(yarn, [("roll", RatioWithU(86.0, 0.0))])
    # half of the last printed digit of 27.38, in inches of draft, and Lincoln truncates: twice that
    assert row.draft_per_treadle_m / 0.0254 == pytest.approx(3.14, abs=3.14 * 0.01 / 27.38)
    assert row.metres_per_hour is None
    assert math.isclose(row.draft_per_treadle_m_u, 0.0)
