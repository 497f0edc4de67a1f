"""Differences and rates against GTC, scipy's chi-squared quantiles and simulated counts."""

from math import inf

import numpy as np
import pytest
from scipy.stats import chi2

from whorlpulse.estimators.difference import Shared, count_ends, difference, rate, span_difference
from whorlpulse.estimators.measured import Measured

GTC = pytest.importorskip("GTC")


def test_a_shared_reference_is_carried_as_gtc_carries_it():
    """Creep 1 − k/R0 of two logs against one R0: GTC follows R0 into both and into their difference."""
    k_a, k_b, r0 = GTC.ureal(8.31, 0.004), GTC.ureal(8.37, 0.003), GTC.ureal(8.45, 0.04)
    creep_a, creep_b = 1 - k_a / r0, 1 - k_b / r0
    theirs = creep_b - creep_a
    ours = difference(
        Measured(GTC.value(creep_a), 0.004 / 8.45),
        Measured(GTC.value(creep_b), 0.003 / 8.45),
        Shared(0.04, 8.31 / 8.45**2, 8.37 / 8.45**2),
    )
    assert ours.value == pytest.approx(GTC.value(theirs), rel=1e-9)
    assert ours.u == pytest.approx(GTC.uncertainty(theirs), rel=1e-6)
    # the reference alone makes each level ten times less sure than it makes their difference
    assert GTC.uncertainty(creep_a) > 5 * ours.u


def test_independent_values_add_with_welch_and_satterthwaite():
    a, b = GTC.ureal(10.0, 0.3, 7), GTC.ureal(11.5, 0.4, 12)
    ours = difference(Measured(10.0, 0.3, 7), Measured(11.5, 0.4, 12))
    assert ours.u == pytest.approx(GTC.uncertainty(b - a), rel=1e-9)
    assert ours.dof == pytest.approx(GTC.dof(b - a), rel=1e-6)
    assert difference(Measured(1.0, 0.0), Measured(1.0, 0.0)).dof == inf


@pytest.mark.parametrize("n", [1, 2, 3, 5, 10, 40, 300])
def test_ends_of_a_count_are_garwoods(n):
    low, high = count_ends(n)
    # Garwood (1936), as chi-squared has it
    assert low == pytest.approx(chi2.ppf(0.025, 2 * n) / 2, rel=1e-9)
    assert high == pytest.approx(chi2.ppf(0.975, 2 * n + 2) / 2, rel=1e-9)


def test_no_event_bounds_the_rate_all_the_same():
    assert count_ends(0) == (0.0, pytest.approx(chi2.ppf(0.975, 2) / 2, rel=1e-9))
    none = rate([], 10.0, 0.5)
    assert (none.value, none.low) == (0.0, 0.0)
    assert none.high == pytest.approx(3.6889 * 0.5 / 10.0, rel=1e-4)


@pytest.mark.parametrize(("mean_a", "mean_b"), [(3.0, 3.0), (1.0, 8.0), (12.0, 5.0), (0.5, 0.5)])
def test_differences_of_rates_hold_their_interval(mean_a, mean_b):
    rng = np.random.default_rng(5)
    held, runs = 0, 3000
    for n_a, n_b in zip(rng.poisson(mean_a, runs), rng.poisson(mean_b, runs), strict=True):
        made = span_difference(rate([1.0] * n_a, 1.0, 1.0), rate([1.0] * n_b, 2.0, 1.0))
        held += made.low <= mean_b / 2.0 - mean_a <= made.high
    # Counts are coarse, so exact ends hold more often than 95 %; less often never.
    assert held / runs > 0.94


def test_unequal_events_hold_their_interval():
    """Bursts of 0.2 to 2 turns: a compound count."""
    rng = np.random.default_rng(6)
    held, runs, mean = 0, 3000, 6.0
    for n in rng.poisson(mean, runs):
        sizes = rng.uniform(0.2, 2.0, n)
        found = rate(sizes.tolist(), 4.0, 1.1)
        held += found.low <= mean * 1.1 / 4.0 <= found.high
    assert 0.93 < held / runs < 0.995
