"""The tally's intervals against simulated truth: how often they hold it, and how wide they are."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from tests.tally.tapping import tapped

from whorlpulse.estimators.tally import ratio_from_counts, ratio_from_taps


def covered(draw, truth, runs):
    """The share of runs whose interval holds the truth, of those that have one."""
    found = [f for f in (draw() for _ in range(runs)) if f is not None]
    assert len(found) > 0.97 * runs
    return np.mean([f.low <= truth <= f.high for f in found])


@pytest.mark.parametrize("reaction_s", [0.03, 0.05, 0.08])
@pytest.mark.parametrize(("ratio", "turns"), [(4.0, 8), (6.21, 20), (9.3, 12)])
def test_intervals_of_taps_hold_the_truth_95_times_in_100(ratio, turns, reaction_s):
    """Bar 93 to 97 %; 1500 runs have a standard error of 0.6 %, so the test allows 1.2 % more at both ends."""
    rng = np.random.default_rng(round(1000 * reaction_s) + turns)
    share = covered(lambda: ratio_from_taps(*tapped(rng, ratio, turns, reaction_s)).found, ratio, 1500)
    assert 0.918 <= share <= 0.982


@pytest.mark.parametrize("reaction_s", [0.03, 0.05])
def test_missed_taps_are_cut_out(reaction_s):
    """2 % of taps left out: a turn lost would be an error of 1 in 6 over one turn; the interval must not notice."""
    rng = np.random.default_rng(7)
    share = covered(lambda: ratio_from_taps(*tapped(rng, 6.21, 25, reaction_s, missed=0.02)).found, 6.21, 800)
    assert share >= 0.92
    cuts = sum(ratio_from_taps(*tapped(rng, 6.21, 25, reaction_s, missed=0.02)).cuts > 0 for _ in range(100))
    assert cuts > 80


def test_the_fit_is_least_squares_as_statsmodels_does_it():
    wheel_s, flyer_s = tapped(np.random.default_rng(3), 6.21, 20, 0.05)
    ours = ratio_from_taps(wheel_s, flyer_s)
    assert ours.cuts == 0
    y = np.interp(wheel_s, flyer_s, np.arange(len(flyer_s)))
    theirs = sm.OLS(y, sm.add_constant(np.arange(len(wheel_s)))).fit()
    assert ours.found.ratio == pytest.approx(theirs.params[1], rel=1e-12)
    assert [ours.found.low, ours.found.high] == pytest.approx(theirs.conf_int()[1], rel=2e-5)  # Student's t, tabled
    # both hands scatter by 50 ms, and the flyer's is interpolated between two taps: 50 to 71 ms at most
    assert 0.035 < ours.scatter_s < 0.09


def test_the_turns_that_it_asks_for_are_enough():
    rng = np.random.default_rng(11)
    asked = [ratio_from_taps(*tapped(rng, 4.0, 5, 0.08)).found for _ in range(200)]
    asked = [f for f in asked if f is not None and f.more_wheel_turns]
    assert len(asked) > 50
    total = round(np.median([f.wheel_turns + f.more_wheel_turns for f in asked]))
    then = [ratio_from_taps(*tapped(rng, 4.0, total, 0.08)).found for _ in range(200)]
    assert np.median([(f.high - f.low) / 2 / f.ratio for f in then]) == pytest.approx(0.01, rel=0.35)


def test_steady_taps_are_exact():
    found = ratio_from_taps(np.arange(1, 8) * 5.0, np.arange(0, 40, 0.8)).found
    assert found.ratio == pytest.approx(6.25, rel=1e-12)
    assert found.wheel_turns == 6
    assert found.flyer_turns == pytest.approx(37.5)
    assert found.more_wheel_turns == 0


def test_a_key_that_repeats_is_not_a_turn():
    wheel_s, flyer_s = np.arange(1, 8) * 5.0, np.arange(0, 40, 0.8)
    held = np.sort(np.concatenate([flyer_s, flyer_s[10] + np.array([0.03, 0.06, 0.09])]))
    got = ratio_from_taps(wheel_s, held)
    assert got.repeats == 3
    assert got.found.ratio == pytest.approx(6.25, rel=1e-12)


@pytest.mark.parametrize(("wheel_taps", "flyer_taps"), [(0, 0), (1, 50), (50, 1), (3, 50), (50, 2)])
def test_too_few_taps_are_no_answer(wheel_taps, flyer_taps):
    got = ratio_from_taps(np.arange(wheel_taps) * 5.0 + 1, np.arange(flyer_taps) * 0.8)
    assert got.found is None
    assert got.needed == 3


def rounded(rng, ratio, turns, step, pairs, exact):
    """Counts of a wheel that starts and stops anywhere (exact: at its mark), each end rounded to the step."""
    wheel, flyer = [], []
    for _ in range(pairs):
        start = rng.uniform(0, 50)
        end = start + (turns if exact else turns + rng.uniform(0, 5))
        ends = np.array([start, end])
        flyer_ends = ratio * ends + rng.uniform(0, 1)
        flyer.append(float(np.diff(step * np.rint(flyer_ends / step))[0]))
        wheel.append(float(turns) if exact else float(np.diff(step * np.rint(ends / step))[0]))
    return wheel, flyer


@pytest.mark.parametrize("exact", [False, True])
@pytest.mark.parametrize(("step", "pairs"), [(1.0, 1), (0.5, 1), (1.0, 3), (1.0, 12)])
def test_intervals_of_counts_hold_the_truth(step, pairs, exact):
    """Rectangular roundings at both ends: at least 93 %, not wide for nothing (97 %), and 1 % for 1500 draws."""
    rng = np.random.default_rng(pairs + 10 * exact)
    hits = []
    for _ in range(1500):
        ratio = rng.uniform(5, 9)
        counts = rounded(rng, ratio, 20, step, pairs, exact)
        found = ratio_from_counts(*counts, step, wheel_exact=exact).found
        hits.append(found.low <= ratio <= found.high)
    assert 0.92 <= np.mean(hits) <= 0.98


def test_one_count_with_an_exact_wheel_in_closed_form():
    """A difference of two rectangular roundings is triangular: 95 % lie within q(1 - sqrt(0.05)) (GUM 4.3.9)."""
    found = ratio_from_counts([20], [124], 1.0, wheel_exact=True).found
    assert found.high - 6.2 == pytest.approx((1 - np.sqrt(0.05)) / 20, rel=2e-3)
    assert 6.2 - found.low == pytest.approx((1 - np.sqrt(0.05)) / 20, rel=2e-3)
    assert found.more_wheel_turns == 0
    # 1 % of 6.2 with a count of 3: 0.776/(0.01·6.2·1.01...) = 12.5 turns are needed in all
    assert ratio_from_counts([3], [19], 1.0, wheel_exact=True).found.more_wheel_turns == pytest.approx(10, abs=1)


def test_half_turns_halve_the_interval():
    whole, half = (ratio_from_counts([40], [248], q).found for q in (1.0, 0.5))
    assert (whole.high - whole.low) / (half.high - half.low) == pytest.approx(2, rel=0.01)


def test_the_turns_asked_for_bring_one_percent():
    first = ratio_from_counts([20], [124], 1.0).found
    total = 20 + first.more_wheel_turns
    then = ratio_from_counts([total], [round(6.2 * total)], 1.0).found
    assert (then.high - then.low) / 2 / then.ratio == pytest.approx(0.01, rel=0.03)
    assert then.more_wheel_turns <= 1


def test_a_miscount_is_seen():
    assert ratio_from_counts([20, 20, 20], [124, 125, 124], 1.0).agree
    assert not ratio_from_counts([20, 20, 20], [124, 140, 124], 1.0).agree


@pytest.mark.parametrize("counts", [([], []), ([1], []), ([0], [5]), ([2], [-1]), ([np.nan], [1]), ([1], [np.inf])])
def test_counts_that_say_nothing_are_refused(counts):
    with pytest.raises(ValueError, match="in pairs, each above 0"):
        ratio_from_counts(*counts, 1.0)
