"""The yarn plan's arithmetic: what a whorl asks of the hands, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from whorlpulse.estimators import plan, plying, yarn_geometry
from whorlpulse.estimators.band_ratio import RatioWithU
from whorlpulse.estimators.measured import Measured

TWIST = 200.0
YARN = plan.YarnPlan(TWIST, count_tex=100.0)


def test_one_whorl_by_hand():
    # 8 turns a treadle at 200 turns a metre draw 40 mm; 60 treadles a minute are 3600 an hour: 144 m.
    # 100 g of 100 tex are 1000 m, so 1000/144 hours. All by hand.
    (row,) = plan.per_whorl(YARN, [("middle", RatioWithU(8.0, 0.08))], 60.0, mass_kg=0.1)
    assert (row.name, row.ratio, row.ratio_u) == ("middle", 8.0, 0.08)
    assert row.draft_per_treadle_m == pytest.approx(0.040, rel=1e-12)
    assert row.draft_per_treadle_m_u == pytest.approx(0.0004, rel=1e-12)  # 1 % as the ratio's
    assert row.metres_per_hour == pytest.approx(144.0, rel=1e-12)
    assert row.hours == pytest.approx(1000 / 144, rel=1e-12)


@given(
    ratio=st.floats(1.0, 40.0),
    twist=st.floats(20.0, 1500.0),
    cadence=st.floats(20.0, 120.0),
    retraction=st.floats(0.0, 0.2),
)
def test_turns_put_in_are_turns_in_the_yarn(ratio, twist, cadence, retraction):
    # counted the slow way, stroke by stroke over an hour: the flyer's turns are the yarn's twist times its length
    yarn = plan.YarnPlan(twist)
    (row,) = plan.per_whorl(yarn, [(None, RatioWithU(ratio, 0.0))], cadence, retraction=retraction)
    flyer_turns = 60 * cadence * ratio
    assert row.metres_per_hour * twist == pytest.approx(flyer_turns, rel=1e-12)
    drafted_per_hour = 60 * cadence * row.draft_per_treadle_m
    assert drafted_per_hour * (1 - retraction) == pytest.approx(row.metres_per_hour, rel=1e-12)


def test_what_is_not_asked_for_is_unknown():
    (row,) = plan.per_whorl(YARN, [(None, RatioWithU(8.0, 0.0))])
    assert (row.metres_per_hour, row.hours) == (None, None)
    (row,) = plan.per_whorl(plan.YarnPlan(TWIST), [(None, RatioWithU(8.0, 0.0))], 60.0, mass_kg=0.1)
    assert row.hours is None  # no count, so no length for a mass
    assert plan.per_whorl(YARN, [], 60.0) == ()


@given(twist=st.floats(20.0, 1500.0), tolerance=st.floats(0.001, 1.0))
def test_the_band_of_the_plan_is_symmetric(twist, tolerance):
    yarn = plan.YarnPlan(twist, tolerance=tolerance)
    assert (yarn.low_tpm + yarn.high_tpm) / 2 == pytest.approx(twist, rel=1e-12)
    assert (yarn.high_tpm - yarn.low_tpm) / 2 == pytest.approx(tolerance * twist, rel=1e-9)


def test_plying_goes_the_other_way():
    assert (plying.ply_direction("Z"), plying.ply_direction("S")) == ("S", "Z")
    assert plying.ply_twist_tpm(300.0, fraction=0.5) == pytest.approx(150.0)
    made = plying.plying(Measured(100.0, 0.0), Measured(150.0, 0.0))
    assert made.left.value == -50.0  # more taken out than there was


@given(tex=st.floats(1.0, 5000.0), twist=st.floats(1.0, 2000.0))
def test_an_angle_lies_between_straight_and_square(tex, twist):
    angle = yarn_geometry.helix_angle_deg(twist, yarn_geometry.yarn_diameter_m(tex))
    assert 0 < angle < 90
    assert yarn_geometry.helix_angle_deg(twist * 1.1, yarn_geometry.yarn_diameter_m(tex)) > angle
    assert 0 < yarn_geometry.retraction(angle) < 1


@pytest.mark.parametrize("bad", [0.0, -1.0, float("nan"), float("inf")])
def test_misuse_is_refused_by_name(bad):
    with pytest.raises(ValueError, match="tex"):
        yarn_geometry.yarn_diameter_m(bad)
    with pytest.raises(ValueError, match="twist_tpm"):
        yarn_geometry.helix_angle_deg(bad, yarn_geometry.yarn_diameter_m(20.0))
    with pytest.raises(ValueError, match="cadence_per_min"):
        plan.per_whorl(YARN, [(None, RatioWithU(8.0, 0.0))], bad)
    with pytest.raises(ValueError, match="ratio"):
        plan.per_whorl(YARN, [(None, RatioWithU(bad, 0.0))], 60.0)
    with pytest.raises(ValueError, match="mass_kg"):
        plan.per_whorl(YARN, [(None, RatioWithU(8.0, 0.0))], 60.0, mass_kg=bad)
    with pytest.raises(ValueError, match="tex"):
        plying.resultant_count_tex([20.0, bad])


def test_more_misuse_is_refused():
    with pytest.raises(ValueError, match="at least one ply"):
        plying.resultant_count_tex([])
    for angle in (-1.0, 90.0, float("nan")):
        with pytest.raises(ValueError, match="helix angle"):
            yarn_geometry.retraction(angle)
    for part in (-0.1, 1.0, float("nan")):
        with pytest.raises(ValueError, match="retraction"):
            yarn_geometry.drafted_length(1.0, part)
