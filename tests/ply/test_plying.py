"""Plying: printed figures, kinematics counted turn by turn, GTC for one roller behind both, and coverage."""

import math

import GTC
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from whorlpulse import units
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.plying import (
    BALANCED_FROM_TO,
    mean_of_singles,
    ply_direction,
    plying,
    resultant_count_tex,
    singles_count_tex,
    singles_twist_tpm,
)

INCH = 0.0254


def exact(tpi):
    return Measured(tpi / INCH, 0.0)


def test_two_thirds_out_and_one_third_left():
    # trade pages, read: 9 tpi singles, 6 tpi of ply; 9 - 6 = 3 left, by kinematics
    made = plying(exact(9.0), exact(6.0))
    assert made.share.value == pytest.approx(2 / 3)
    assert made.left.value * INCH == pytest.approx(3.0)
    assert made.balanced_tpm * INCH == pytest.approx(6.0)
    assert made.balance == "balanced"


@pytest.mark.parametrize("percent", [60.1, 66.7, 70.0])
def test_the_printed_range_of_a_balanced_two_ply_is_within_ours(percent):
    # a secondary page, read: 60 to 70 % of the singles' twist; ours is two thirds give or take a tenth
    assert plying(exact(10.0), exact(percent / 10)).balance == "balanced"


@pytest.mark.parametrize(
    ("ply", "u", "balance"), [(5.0, 0.1, "under"), (8.0, 0.1, "over"), (6.0, 0.3, "undecided"), (7.3, 0.2, "undecided")]
)
def test_balance_goes_by_the_interval(ply, u, balance):
    assert plying(exact(10.0), Measured(ply / INCH, u / INCH)).balance == balance


@given(
    singles=st.floats(50.0, 1000.0),
    share=st.floats(0.0, 1.5),
    contraction=st.floats(0.0, 0.2),
    length=st.floats(1.0, 50.0),
)
def test_left_is_what_a_count_of_turns_gives(singles, share, contraction, length):
    # the slow way: whole turns of a strand in `length` of plied yarn, less those that plying took out
    ply = share * singles
    strand = length / (1 - contraction)
    for same_way in (False, True):
        turns = singles * strand + (1 if same_way else -1) * ply * length
        made = plying(Measured(singles, 0.0), Measured(ply, 0.0), same_way=same_way, contraction=contraction)
        assert made.left.value == pytest.approx(turns / length, rel=1e-9, abs=1e-9)
        assert (made.balance is None) == same_way


def test_contraction_is_the_textbooks():
    # T2 = T1 / (1 - c) and tex2 = tex1 / (1 - c): formulas read; c = 0.05, 20 tex make 21.0526 tex
    made = plying(Measured(200.0, 0.0), Measured(1e-9, 0.0), contraction=0.05)
    assert made.left.value == pytest.approx(200 / 0.95, rel=1e-9)
    assert resultant_count_tex([10.0, 10.0], 0.05) == pytest.approx(21.0526, abs=1e-4)
    assert singles_count_tex(21.0526, 2, 0.05) == pytest.approx(10.0, abs=1e-4)


@pytest.mark.parametrize(("counts", "resultant"), [((40, 20), 13.33), ((40, 80, 120), 21.81), ((300, 300, 300), 100.0)])
def test_fold_counts(counts, resultant):
    # C. P. Brooks, Cotton Manufacturing, read: 40 and 20 fold to 13.33, 40, 80 and 120 to 21.81 (prints 21.81 for
    # 21.818), three of 300 to 100
    tex = resultant_count_tex([units.count(f"{n} Ne") for n in counts])
    assert units.count_from_tex(tex, "Ne") == pytest.approx(resultant, abs=0.01)


def test_one_roller_behind_both_is_gtcs_correlation():
    # n1 turns on k l1 and n2 on k l2, where k is the roller's: one input of both
    k = GTC.ureal(1.0, 0.01)
    n1, n2 = GTC.ureal(3000.0, 4.0), GTC.ureal(1900.0, 3.0)
    singles, ply = n1 / (k * 10.0), n2 / (k * 9.5)
    ours_s = Measured(GTC.value(singles), GTC.uncertainty(singles))
    ours_p = Measured(GTC.value(ply), GTC.uncertainty(ply))
    made = plying(ours_s, ours_p, contraction=0.04, shared_relative_u=0.01)
    assert made.share.u == pytest.approx(GTC.uncertainty(ply / singles), rel=1e-6)
    assert made.left.u == pytest.approx(GTC.uncertainty(singles / 0.96 - ply), rel=1e-6)
    same = plying(ours_s, ours_p, same_way=True, shared_relative_u=0.01)
    assert same.left.u == pytest.approx(GTC.uncertainty(singles + ply), rel=1e-6)
    # forgetting it would be wrong both ways
    apart = plying(ours_s, ours_p, contraction=0.04)
    assert apart.share.u > 3 * made.share.u
    assert apart.left.u > 2 * made.left.u


def test_mean_of_singles_is_gtcs():
    k = GTC.ureal(1.0, 0.01)
    twists = [GTC.ureal(n, 5.0) / (k * 10.0) for n in (3000.0, 3100.0, 2950.0)]
    mean = sum(twists) / 3
    ours = mean_of_singles([Measured(GTC.value(t), GTC.uncertainty(t)) for t in twists], 0.01)
    assert ours.value == pytest.approx(GTC.value(mean), rel=1e-12)
    assert ours.u == pytest.approx(GTC.uncertainty(mean), rel=1e-6)


def test_intervals_cover_95_of_100():
    rng = np.random.default_rng(7)
    trials, hits = 4000, np.zeros(2)
    for _ in range(trials):
        true_s, true_p, relative = 320.0, 210.0, 0.008
        k = 1 + relative * rng.normal()
        s = Measured(true_s * k + 1.5 * rng.normal(), math.hypot(1.5, relative * true_s))
        p = Measured(true_p * k + 1.0 * rng.normal(), math.hypot(1.0, relative * true_p))
        made = plying(s, p, shared_relative_u=relative)
        hits += (
            made.share.low < true_p / true_s < made.share.high,
            made.left.low < true_s - true_p < made.left.high,
        )
    # 93 to 97 % is the bar of all intervals here; 4000 trials know it to 0.35 %
    assert np.all((hits / trials > 0.93) & (hits / trials < 0.97)), hits / trials


def test_planning_backwards():
    assert singles_twist_tpm(plying(exact(9.0), exact(6.0)).ply.value) * INCH == pytest.approx(9.0)
    assert (ply_direction("Z"), ply_direction("S")) == ("S", "Z")
    low, high = BALANCED_FROM_TO
    assert (low + high) / 2 == pytest.approx(2 / 3)


def test_misuse_is_refused():
    for bad in (-0.1, 1.0, math.nan):
        with pytest.raises(ValueError, match="contraction"):
            plying(exact(9.0), exact(6.0), contraction=bad)
        with pytest.raises(ValueError, match="contraction"):
            resultant_count_tex([10.0], bad)
    with pytest.raises(ValueError, match="at least one"):
        mean_of_singles([])
    with pytest.raises(ValueError, match="plies"):
        singles_count_tex(100.0, 0)
