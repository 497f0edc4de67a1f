"""What a draft makes, what a draw takes, which whorl suits: old machine books, GTC, and turns counted one by one."""

import csv
import math
from pathlib import Path

import GTC
import pytest
from hypothesis import given
from hypothesis import strategies as st

from whorlpulse.estimators.band_ratio import RatioWithU
from whorlpulse.estimators.hands import Hands, per_hand, ratios_that_suit, twist_of_draft
from whorlpulse.estimators.plan import YarnPlan, per_whorl
from whorlpulse.rig import Length

INCH = 0.0254
TABLES = Path(__file__).parents[1] / "authorities" / "data"


def inches(value):
    return Length(value * INCH)


@pytest.mark.parametrize(
    ("turns", "inches_out", "tpi", "tolerance"),
    [
        (86.0, 3.14, 27.38, 0.01),  # Lincoln, Instruction Book on Ring Spinning (1885), sec. 37, read
        (1000.0, 103.9, 9.63, 0.006),  # speed frame, textilecalculations.com problem 1, read
        (1000.0, 176.7, 5.66, 0.005),  # same, problem 2; inputs read
    ],
)
def test_twist_of_a_draft_is_turns_over_length(turns, inches_out, tpi, tolerance):
    # a flyer or spindle's turns for one of the roll, and what the roll delivers, are ratio and draft a treadle
    found = twist_of_draft(turns, 0.0, inches(inches_out))
    assert found.value * INCH == pytest.approx(tpi, abs=tolerance)


def test_every_row_of_a_flyer_frame_table():
    # Howard & Bullough p. 115, read: whole roll speeds agree with the printed tpi to 0.42 %
    with (TABLES / "howard_bullough_p115_flyer_frames.csv").open() as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 61
    for row in rows:
        ratio = float(row["spindle_rpm"]) / float(row["front_roll_rpm"])
        found = twist_of_draft(ratio, 0.0, inches(math.pi * float(row["roll_dia_in"])))
        assert found.value * INCH == pytest.approx(float(row["tpi_printed"]), rel=5e-3), row


def test_its_uncertainty_is_gtcs():
    ratio, draft = GTC.ureal(6.21, 0.02), GTC.ureal(0.032, 0.001)
    whole = ratio / (draft * (1 - 0.05))
    found = twist_of_draft(6.21, 0.02, Length(0.032, 0.001), 0.05)
    assert found.value == pytest.approx(GTC.value(whole), rel=1e-12)
    assert found.u == pytest.approx(GTC.uncertainty(whole), rel=1e-12)


@given(
    ratio=st.floats(2.0, 40.0),
    twist=st.floats(20.0, 1500.0),
    retraction=st.floats(0.0, 0.2),
    draw=st.floats(0.1, 2.0),
    cadence_hz=st.floats(0.3, 2.0),
)
def test_the_planned_draft_makes_the_planned_twist_and_a_draw_holds_its_turns(
    ratio, twist, retraction, draw, cadence_hz
):
    plan = YarnPlan(twist)
    whorls = per_whorl(plan, [(None, RatioWithU(ratio, 0.0))], 60 * cadence_hz, retraction=retraction)
    (row,) = whorls
    hands = Hands(draw=Length(draw), draft=Length(row.draft_per_treadle_m))
    (hand,) = per_hand(plan, whorls, cadence_hz, hands, retraction)
    assert hand.twist.value == pytest.approx(twist, rel=1e-9)
    assert hand.place == "on-plan"
    # turns in a draw: the drafted length shortened by twisting, times the twist
    assert hand.draw_turns == pytest.approx(draw * (1 - retraction) * twist, rel=1e-9)
    assert hand.draw_treadles * ratio == pytest.approx(hand.draw_turns, rel=1e-9)
    # the hands' speed carries the drafted length away in that time
    assert hand.speed_m_s * hand.draw_s == pytest.approx(draw, rel=1e-9)


def test_which_whorl_suits_by_hand():
    # 200 turns a metre and 3 to 6 cm a treadle: ratios from 6 to 12
    plan = YarnPlan(200.0)
    assert ratios_that_suit(plan, (0.03, 0.06)) == pytest.approx((6.0, 12.0))
    whorls = per_whorl(plan, [(str(r), RatioWithU(r, 0.0)) for r in (5.9, 6.1, 11.9, 12.1)], 60.0)
    found = [h.suits for h in per_hand(plan, whorls, 1.0, Hands(comfort=(0.03, 0.06)))]
    assert found == ["too-little", "suits", "suits", "too-much"]


def test_places_go_by_the_interval():
    plan = YarnPlan(200.0, tolerance=0.1)
    whorls = per_whorl(plan, [(None, RatioWithU(8.0, 0.0))], 60.0)
    for draft, u, place in (
        (0.04, 0.0, "on-plan"),
        (0.05, 0.0, "under"),
        (0.03, 0.0, "over"),
        (0.044, 0.001, "undecided"),
    ):
        (hand,) = per_hand(plan, whorls, 1.0, Hands(draft=Length(draft, u)))
        assert hand.place == place, draft


def test_misuse_is_refused():
    plan = YarnPlan(200.0)
    whorls = per_whorl(plan, [(None, RatioWithU(8.0, 0.0))], 60.0)
    with pytest.raises(ValueError, match="cadence_hz"):
        per_hand(plan, whorls, 0.0, Hands())
    with pytest.raises(ValueError, match="shorter to a longer"):
        per_hand(plan, whorls, 1.0, Hands(comfort=(0.06, 0.03)))
    with pytest.raises(ValueError, match="draft"):
        twist_of_draft(8.0, 0.0, Length(0.0))
