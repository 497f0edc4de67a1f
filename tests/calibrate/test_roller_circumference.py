"""A roller's length per turn: by hand, against GTC (GUM) and statsmodels, and its interval's coverage in simulation."""

import math

import GTC
import numpy as np
import pytest
import statsmodels.api as sm

from whorlpulse.estimators.measured import coverage_factor
from whorlpulse.estimators.roller_circumference import PullsDiffer, roller_circumference
from whorlpulse.rig import Length

TEN = Length(10.0, 0.003)


def test_one_pull_by_hand():
    # 400 pulses of 4 targets are 100 turns: 10 m / 100
    found = roller_circumference([400], [TEN], 4)
    assert found.per_turn.value == pytest.approx(0.1)
    # relative: 3 mm in 10 m, and a gap of 1/4 turn, triangular (GUM 4.3.9): 0.25/√6 of 100 turns
    assert found.length_u == pytest.approx(3e-4)
    assert found.pull_u == pytest.approx(0.25 / math.sqrt(6) / 100)
    assert found.per_turn.u == pytest.approx(0.1 * math.hypot(3e-4, 0.25 / math.sqrt(6) / 100))
    assert (found.scatter_m, found.pulls_to_halve, found.pull_limit) == (None, None, "pulses")


def test_equal_lengths_give_the_length_over_the_mean_turns():
    pulses = [401, 396, 399, 404, 398]
    found = roller_circumference(pulses, [TEN] * 5, 4)
    assert found.per_turn.value == pytest.approx(10.0 / (np.mean(pulses) / 4), rel=1e-12)
    # s/√n of the turns (GUM 4.2.3), the tape's part not divided by anything (GUM 5.2.2)
    s = np.std(np.array(pulses) / 4, ddof=1)
    assert found.pull_u == pytest.approx(s / math.sqrt(5) / (np.mean(pulses) / 4), rel=1e-12)
    assert found.length_u == pytest.approx(3e-4)
    assert found.pull_limit == "scatter"


def test_against_the_gum_tree_calculator():
    """C = L / mean(T): GTC (its 1.5 series) carries L's uncertainty and type A of the turns, degrees of freedom too."""
    pulses = [401, 396, 399, 404, 398]
    turns = GTC.type_a.estimate([n / 4 for n in pulses], label="turns")
    tape = GTC.ureal(10.0, 0.003, label="tape")
    theirs = tape / turns
    ours = roller_circumference(pulses, [TEN] * 5, 4).per_turn
    assert ours.value == pytest.approx(GTC.value(theirs), rel=1e-12)
    assert ours.u == pytest.approx(GTC.uncertainty(theirs), rel=1e-9)
    assert ours.dof == pytest.approx(GTC.dof(theirs), rel=1e-9)


def test_correlated_lengths_against_the_gum_tree_calculator():
    """Two lengths off one tape, fully correlated (GUM 5.2.2): C = Σ L² / Σ L T, propagated by GTC."""
    lengths, pulses = [10.0, 6.0, 8.0], [400, 240, 320]
    tape = GTC.ureal(1.0, 3e-4)
    L = [tape * m for m in lengths]
    gap = 0.25 / math.sqrt(6)
    T = [GTC.ureal(n / 4, gap) for n in pulses]
    theirs = sum(a * a for a in L) / sum(a * b for a, b in zip(L, T, strict=True))
    ours = roller_circumference(pulses, [Length(m, 3e-4 * m) for m in lengths], 4)
    assert ours.pull_limit == "pulses"
    assert ours.per_turn.value == pytest.approx(GTC.value(theirs), rel=1e-12)
    assert ours.per_turn.u == pytest.approx(GTC.uncertainty(theirs), rel=1e-3)


def test_against_a_regression_through_the_origin():
    lengths, pulses = np.array([10.0, 6.0, 8.0, 12.0]), np.array([402, 236, 324, 477])
    fit = sm.OLS(pulses / 4, lengths).fit()
    ours = roller_circumference(pulses.tolist(), [Length(m) for m in lengths], 4)
    assert ours.per_turn.value == pytest.approx(1 / fit.params[0], rel=1e-12)
    assert ours.per_turn.u / ours.per_turn.value == pytest.approx(fit.bse[0] / fit.params[0], rel=1e-9)
    assert ours.per_turn.dof == pytest.approx(fit.df_resid)


def coverage(pulls, scatter_m, length_u, targets=4, trials=1500, seed=0):
    rng = np.random.default_rng(seed)
    held = []
    for _ in range(trials):
        true = 0.1 * (1 + 0.02 * rng.random())
        tape = 1 + rng.normal() * length_u / 10.0
        turns = (10.0 * tape + scatter_m * rng.standard_normal(pulls)) / true * targets
        pulses = np.floor(rng.random(pulls) + turns).astype(int)
        found = roller_circumference(pulses.tolist(), [Length(10.0, length_u)] * pulls, targets).per_turn
        held.append(found.low <= true <= found.high)
    return np.mean(held)


@pytest.mark.parametrize("pulls", [3, 5, 8])
@pytest.mark.parametrize("scatter_m", [0.0, 0.01, 0.04])
def test_the_interval_covers_what_it_says(pulls, scatter_m):
    """95 % of 1500 trials, binomial deviation 0.6 %; whole pulses make it a little wide where nothing else scatters."""
    assert 0.93 <= coverage(pulls, scatter_m, 0.003) <= 0.985


def test_one_pull_covers_what_it_says_as_long_as_pulls_would_repeat():
    assert 0.93 <= coverage(1, 0.0, 0.003) <= 0.98


def test_how_many_pulls_halve_the_interval():
    pulses = [401, 396, 399, 404, 398]
    found = roller_circumference(pulses, [Length(10.0)] * 5, 4)
    n = found.pulls_to_halve
    # with the same scatter: t(n−1)/√n must be half of t(4)/√5
    half = coverage_factor(4) / math.sqrt(5) / 2
    assert coverage_factor(n - 1) / math.sqrt(n) <= half < coverage_factor(n - 2) / math.sqrt(n - 1)
    # where the tape's own error is most of it, no number does
    assert roller_circumference(pulses, [Length(10.0, 0.2)] * 5, 4).pulls_to_halve is None


def test_pulls_of_other_lengths_are_refused_and_odd_ones_named():
    with pytest.raises(PullsDiffer) as caught:
        roller_circumference([400, 200, 401], [TEN] * 3, 4)
    assert caught.value.each_m == pytest.approx((0.1, 0.2, 0.09975), abs=1e-5)
    assert roller_circumference([400, 399, 401, 400, 389], [TEN] * 5, 4).odd == 4
    assert roller_circumference([400, 399, 401, 400, 402], [TEN] * 5, 4).odd is None
