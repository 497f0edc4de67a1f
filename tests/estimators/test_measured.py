"""Values with uncertainty against scipy's t distribution, the GUM Tree Calculator and simulation."""

from math import inf

import numpy as np
import pytest
from GTC import get_covariance, ureal
from GTC import set_correlation as correlate
from GTC import value as gtc_value
from scipy.stats import t as student

from whorlpulse.estimators.measured import Measured, coverage_factor, quotient, weighted_sum, welch_satterthwaite


def test_coverage_factors_are_students():
    tabled = [1, 2, 3, 5, 8, 10, 16, 20, 30, 50, 100, 500]
    for dof in tabled:
        assert coverage_factor(dof) == pytest.approx(student.ppf(0.975, dof), abs=6e-5)
    # between the table's entries never too narrow, and hardly too wide
    for dof in np.concatenate((np.linspace(3, 30, 109), np.geomspace(30, 1e5, 60))):
        excess = coverage_factor(float(dof)) - student.ppf(0.975, dof)
        assert -6e-5 < excess < 0.012
    assert coverage_factor(inf) == pytest.approx(1.959964, abs=5e-7)
    assert coverage_factor(0.3) == coverage_factor(1.0)


@pytest.mark.parametrize("correlation", [0.0, 0.36, -0.65, 0.99])
def test_a_quotient_is_gtcs(correlation):
    over, under = Measured(812.4, 0.3, 12.0), Measured(9.61, 0.02, 12.0)
    if correlation:
        a, b = ureal(over.value, over.u, independent=False), ureal(under.value, under.u, independent=False)
        correlate(correlation, a, b)
        assert get_covariance(a, b) == pytest.approx(correlation * 0.3 * 0.02)
    else:
        a, b = ureal(over.value, over.u, 12.0), ureal(under.value, under.u, 12.0)
    expected = a / b
    found = quotient(over, under, correlation)
    assert found.value == pytest.approx(gtc_value(expected), rel=1e-12)
    assert found.u == pytest.approx(expected.u, rel=1e-9)
    if not correlation:
        assert found.dof == pytest.approx(expected.df, rel=1e-6)


def test_no_turns_over_a_length_is_zero_and_unsure():
    found = quotient(Measured(0.0, 0.4), Measured(2.0, 0.01))
    assert (found.value, found.u) == (0.0, pytest.approx(0.2))


def test_a_weighted_sum_is_gtcs():
    parts, weights = [Measured(8.41, 0.002, 40.0), Measured(8.39, 0.004, 9.0)], [0.7, 0.3]
    expected = sum(w * ureal(p.value, p.u, p.dof) for p, w in zip(parts, weights, strict=True))
    found = weighted_sum(parts, weights)
    assert (found.value, found.u) == (pytest.approx(gtc_value(expected)), pytest.approx(expected.u))
    assert found.dof == pytest.approx(expected.df, rel=1e-6)


def test_degrees_of_freedom_of_sure_parts_are_infinite():
    assert welch_satterthwaite([(0.1, inf), (0.2, inf)]) == inf
    assert welch_satterthwaite([(0.0, 3.0), (0.2, inf)]) == inf
    # the GUM's own G.4.1 rule gives a single part its own
    assert welch_satterthwaite([(0.2, 7.0)]) == pytest.approx(7.0)


def test_another_unit_keeps_the_interval():
    tpm = Measured(204.7, 0.8, 14.0)
    tpi = tpm.times(0.0254)
    assert (tpi.low, tpi.high) == (pytest.approx(0.0254 * tpm.low), pytest.approx(0.0254 * tpm.high))
    assert tpm.times(-1.0).u == 0.8


def test_an_interval_covers_95_in_100_means_of_five():
    rng = np.random.default_rng(0)
    x = rng.standard_normal((20_000, 5))
    u = x.std(axis=1, ddof=1) / np.sqrt(5)
    inside = np.abs(x.mean(axis=1)) <= coverage_factor(4) * u
    assert inside.mean() == pytest.approx(0.95, abs=4 * np.sqrt(0.95 * 0.05 / 20_000))
