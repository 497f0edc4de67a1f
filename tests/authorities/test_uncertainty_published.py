"""Uncertainties against the GUM's own example, printed t factors and the GUM Tree Calculator.

H.2: JCGM 100:2008, example H.2 (resistance and reactance); its results as the GUM Tree Calculator's documentation
prints them (read), its five sets of raw data from memory; they reproduce the printed results. t factors: a printed
two-sided table (read in a course's t table and in NIST handbook 1.3.6.7.2). GTC: the installed library itself.
"""

import math
import statistics

import GTC
import pytest

from whorlpulse.estimators.measured import Measured, coverage_factor, quotient, weighted_sum, welch_satterthwaite

#: H.2, raw: volts and amperes of five simultaneous readings (from memory).
VOLTS = (5.007, 4.994, 5.005, 4.990, 4.999)
AMPERES = (0.019663, 0.019639, 0.019640, 0.019685, 0.019678)


def mean_of(readings: tuple[float, ...]) -> Measured:
    return Measured(
        statistics.fmean(readings), statistics.stdev(readings) / math.sqrt(len(readings)), len(readings) - 1
    )


def test_h2_correlated_quotient_from_its_raw_data():
    volts, amperes = mean_of(VOLTS), mean_of(AMPERES)
    # the means and their uncertainties as printed: 4.999 (32), 19.661 (95) mA
    assert (volts.value, volts.u) == (pytest.approx(4.999, abs=5e-4), pytest.approx(0.0032, abs=5e-5))
    assert (amperes.value, amperes.u) == (pytest.approx(19.661e-3, abs=5e-7), pytest.approx(9.5e-6, abs=5e-8))
    r = statistics.correlation(VOLTS, AMPERES)
    assert r == pytest.approx(-0.36, abs=0.005)
    impedance = quotient(volts, amperes, r)
    assert impedance.value == pytest.approx(254.260, abs=5e-4)
    assert impedance.u == pytest.approx(0.236, abs=5e-4)


def test_h2_from_its_printed_inputs():
    impedance = quotient(Measured(4.999, 0.0032), Measured(19.661e-3, 9.5e-6), -0.36)
    assert impedance.value == pytest.approx(254.260, abs=2e-3)  # half a unit of the inputs' last digits makes 0.03 %
    assert impedance.u == pytest.approx(0.236, abs=2e-3)


def test_h2_without_its_correlation_is_too_sure():
    # the root of the sum of squares: 0.204 where 0.236 is right
    apart = quotient(Measured(4.999, 0.0032), Measured(19.661e-3, 9.5e-6))
    assert apart.u == pytest.approx(0.204, abs=5e-4)
    assert apart.u / apart.value == pytest.approx(math.hypot(0.0032 / 4.999, 0.0095 / 19.661), rel=1e-12)


@pytest.mark.parametrize("r", [-0.9, -0.36, 0.0, 0.5, 0.99])
def test_quotient_against_gtc(r):
    # a skein's turns and metres, a short and doubtful one, and H.2
    pairs = (((1975.0, 0.41), (10.18, 0.01)), ((5.0, 1.0), (0.2, 0.03)), ((4.999, 0.0032), (0.019661, 9.5e-6)))
    for over, under in pairs:
        a, b = GTC.ureal(*over, independent=False), GTC.ureal(*under, independent=False)
        GTC.set_correlation(r, a, b)
        ours = quotient(Measured(*over), Measured(*under), r)
        assert ours.value == pytest.approx(GTC.value(a / b), rel=1e-12)
        assert ours.u == pytest.approx(GTC.uncertainty(a / b), rel=1e-9)


def test_degrees_of_freedom_of_independent_parts_against_gtc():
    parts = [Measured(3.0, 0.2, 4), Measured(1.5, 0.1, 9), Measured(7.0, 0.05)]
    weights = [1.0, -2.0, 0.5]
    outside = sum(w * GTC.ureal(p.value, p.u, p.dof) for w, p in zip(weights, parts, strict=True))
    ours = weighted_sum(parts, weights)
    assert ours.value == pytest.approx(GTC.value(outside), rel=1e-12)
    assert ours.u == pytest.approx(GTC.uncertainty(outside), rel=1e-12)
    assert ours.dof == pytest.approx(GTC.dof(outside), rel=1e-9)
    over, under = parts[:2]
    outside = GTC.ureal(over.value, over.u, over.dof) / GTC.ureal(under.value, under.u, under.dof)
    assert quotient(over, under).dof == pytest.approx(GTC.dof(outside), rel=1e-9)


def test_degrees_of_freedom_of_the_end_gauge():
    # JCGM 100:2008 H.1: components of 25, 9.7, 2.9 and 16.6 nm with 18, 25.6, 50 and 2 degrees of freedom make 32 nm
    # with 16 (the uncertainties and 32 nm read in GTC's documentation, the degrees of freedom from memory)
    parts = [(25.0, 18), (9.7, 25.6), (2.9, 50), (16.6, 2)]
    assert math.hypot(*(u for u, _ in parts)) == pytest.approx(32, abs=0.5)
    assert math.floor(welch_satterthwaite(parts)) == 16


#: Degrees of freedom and the printed factor for 95 %, two-sided.
T_95 = {
    1: 12.706,
    2: 4.303,
    3: 3.182,
    4: 2.776,
    5: 2.571,
    6: 2.447,
    8: 2.306,
    10: 2.228,
    16: 2.120,
    20: 2.086,
    30: 2.042,
    50: 2.009,
    100: 1.984,
    math.inf: 1.960,
}


@pytest.mark.parametrize("dof", T_95)
def test_printed_t_factors(dof):
    assert coverage_factor(dof) == pytest.approx(T_95[dof], abs=5e-4)  # half of the printed last digit


#: Degrees of freedom from there on, and how much too wide the interpolated factor may be: never too narrow.
TOO_WIDE = ((5.0, 2e-3), (3.0, 0.011), (2.0, 0.06), (1.0, 1.35))


@pytest.mark.parametrize("dof", [1.3, 2.4, 3.4, 4.4, 5.5, 7, 11.3, 13, 17, 23, 35, 45, 75, 150, 350, 2000])
def test_factors_between_the_printed_ones_against_gtc(dof):
    allowed = next(wide for least, wide in TOO_WIDE if dof >= least)
    assert -1e-4 < coverage_factor(dof) - GTC.rp.k_factor(dof, 95) < allowed


def test_the_interval_of_few_readings():
    # five readings: t(4) = 2.776, printed
    volts = mean_of(VOLTS)
    assert volts.high - volts.value == pytest.approx(2.776 * volts.u, rel=2e-4)
    assert volts.value - volts.low == pytest.approx(2.776 * volts.u, rel=2e-4)
