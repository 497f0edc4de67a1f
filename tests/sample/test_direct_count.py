"""Counted samples and surface angle: the standards' arithmetic, printed t factors, GTC, scipy, coverage."""

import math
import statistics

import GTC
import numpy as np
import pytest
from scipy import stats

from whorlpulse.estimators.direct_count import direct_count, of_several, samples_needed, shortening, twist_from_angle
from whorlpulse.estimators.measured import Measured
from whorlpulse.rig import Length

INCH = 0.0254
QUARTER = Length(0.25)


def test_turns_over_gauge_length():
    # ASTM D1423 and ISO 2061: n turns to untwist L (scopes read, arithmetic ours): 250 in 0.25 m are 1000 tpm, 25.4 tpi
    found = direct_count([250.0, 250.0], QUARTER)
    assert found.twist.value == pytest.approx(1000.0)
    assert found.twist.value * INCH == pytest.approx(25.4)


def test_untwist_retwist_is_half_the_count():
    # ASTM D1422 as a laboratory's guide puts it (read): halve the count, divide by the length; 400 on 10 in: 20 tpi
    found = direct_count([400.0, 400.0], Length(10 * INCH), retwisted=True)
    assert found.twist.value * INCH == pytest.approx(20.0)


@pytest.mark.parametrize(("dof", "t"), [(1, 12.706), (2, 4.303), (4, 2.776), (8, 2.306), (10, 2.228), (20, 2.086)])
def test_interval_uses_students_t(dof, t):
    # 95 % t factors, read (a course's table and NIST handbook 1.3.6.7.2)
    samples = dof + 1
    counts = [48.0 + (i * 7) % 5 for i in range(samples)]
    found = direct_count(counts, QUARTER)
    u = statistics.stdev(counts) / math.sqrt(samples) / 0.25
    assert found.twist.half_width == pytest.approx(t * u, rel=5e-4)


def test_mean_and_interval_are_scipys_and_gtcs():
    counts = [48.0, 50.0, 47.0, 52.0, 49.0, 46.0, 50.0]
    found = direct_count(counts, QUARTER)
    low, high = stats.t.interval(0.95, 6, np.mean(counts) / 0.25, stats.sem(counts) / 0.25)
    assert (found.twist.low, found.twist.high) == (pytest.approx(low, rel=1e-5), pytest.approx(high, rel=1e-5))
    assert found.cv == pytest.approx(stats.variation(counts, ddof=1), rel=1e-12)
    # with an unsure gauge length: type A from the counts, type B of the length
    whole = GTC.type_a.estimate(counts) / GTC.ureal(0.25, 0.005)
    unsure = direct_count(counts, Length(0.25, 0.005))
    assert unsure.twist.value == pytest.approx(GTC.value(whole), rel=1e-12)
    assert unsure.twist.u == pytest.approx(GTC.uncertainty(whole), rel=1e-9)
    # kept at k - 1, fewer than Welch and Satterthwaite's, for the coverage below
    assert unsure.twist.dof == 6 < GTC.dof(whole)


@pytest.mark.parametrize("samples", [3, 8, 20])
def test_its_interval_covers_95_of_100(samples):
    rng = np.random.default_rng(11)
    trials, hits, true = 4000, 0, 200.0
    for _ in range(trials):
        real_gauge = 0.25 * (1 + 0.004 * rng.normal())
        twists = true * (1 + 0.05 * rng.normal(size=samples))
        counts = np.round(2 * twists * real_gauge) / 2  # to half a turn
        found = direct_count(counts.tolist(), Length(0.25, 0.001), 0.5).twist
        hits += found.low < true < found.high
    # 93 to 97 % is the bar; 4000 trials know it to 0.35 %
    assert 0.93 < hits / trials < 0.97, hits / trials


def test_equal_counts_are_no_certainty():
    # a count to whole turns is a rectangle of full width 1 (GUM F.2.2.1: 0.29)
    found = direct_count([50.0] * 4, QUARTER, 1.0)
    assert found.twist.u == pytest.approx(1 / math.sqrt(12) / 2 / 0.25)
    finer = direct_count([50.0] * 4, QUARTER, 0.1)
    assert finer.twist.u == pytest.approx(found.twist.u / 10)


def test_one_sample_has_no_interval():
    found = direct_count([50.0], QUARTER)
    assert (found.twist.value, found.cv, found.has_interval) == (200.0, None, False)


def test_untwisting_gives_back_the_drafted_length():
    # R = (L0 - Lt) / L0 and C = 1 / (1 - R) = 1.06 make R = 0.0566038; formulas read
    found = shortening(QUARTER, [0.265])
    assert found.value == pytest.approx(0.0566038, abs=1e-7)
    # 10 tpi twisted at R = 0.05 are 9.5 per untwisted inch
    assert 10 * (1 - shortening(Length(0.95), [1.0]).value) == pytest.approx(9.5)
    assert shortening(QUARTER, [0.24]).value < 0  # some yarns grow by twisting
    gtc = 1 - GTC.ureal(0.25, 0.001) / GTC.ureal(0.265, 0.002)
    assert shortening(Length(0.25, 0.001), [0.265], 0.002).u == pytest.approx(GTC.uncertainty(gtc), rel=1e-9)


@pytest.mark.parametrize(
    ("multiplier", "degrees"),
    [(2.5, 15.71), (3.0, 18.65), (3.5, 21.49), (4.0, 24.22), (4.5, 26.85), (4.75, 28.12), (5.0, 29.35)],
)
def test_twist_from_the_angle_of_a_multiplier(multiplier, degrees):
    # tan a = pi d T with Peirce's d of 1/(27.929 sqrt(Ne)) inches, recomputed from his 1.1 cm3/g
    ne = 30
    diameter = INCH / (27.929 * math.sqrt(ne))
    found = twist_from_angle(Measured(degrees, 0.0), Measured(diameter, 0.0))
    # half of the last digit of the angle
    slack = math.radians(0.005) / (math.sin(math.radians(degrees)) * math.cos(math.radians(degrees)))
    assert found.value * INCH / math.sqrt(ne) == pytest.approx(multiplier, rel=slack + 1e-4)


def test_angle_and_diameter_carry_their_uncertainties_like_gtc():
    angle, diameter = GTC.ureal(22.0, 1.5, 4), GTC.ureal(0.8e-3, 0.05e-3, 2)
    whole = GTC.tan(angle * math.pi / 180) / (math.pi * diameter)
    found = twist_from_angle(Measured(22.0, 1.5, 4), Measured(0.8e-3, 0.05e-3, 2))
    assert found.value == pytest.approx(GTC.value(whole), rel=1e-12)
    assert found.u == pytest.approx(GTC.uncertainty(whole), rel=1e-9)
    assert found.dof == pytest.approx(GTC.dof(whole), rel=1e-9)


def test_readings_of_one_quantity():
    one = of_several([22.0], 0.3)
    assert (one.value, one.u, one.dof) == (22.0, 0.3, math.inf)
    spread = GTC.type_a.estimate([21.0, 23.0, 22.0, 24.0])
    whole = spread + GTC.ureal(0.0, 0.3)
    several = of_several([21.0, 23.0, 22.0, 24.0], 0.3)
    assert several.u == pytest.approx(GTC.uncertainty(whole), rel=1e-12)
    assert several.dof == pytest.approx(GTC.dof(whole), rel=1e-9)


@pytest.mark.parametrize(("cv", "half"), [(0.04, 0.05), (0.08, 0.05), (0.1, 0.02), (0.02, 0.5), (0.0, 0.01)])
def test_how_many_samples_are_enough(cv, half):
    # tried one after another with scipy's t
    k = 2
    while stats.t.ppf(0.975, k - 1) * cv / math.sqrt(k) > half:
        k += 1
    assert abs(samples_needed(cv, half) - k) <= 1  # our t is a table's, up to 0.06 wide


def test_misuse_is_refused():
    for counts, gauge, step in (
        ([], QUARTER, 1.0),
        ([0.0], QUARTER, 1.0),
        ([5.0], Length(0.0), 1.0),
        ([5.0], QUARTER, 0.0),
    ):
        with pytest.raises(ValueError, match="positive"):
            direct_count(counts, gauge, step)
    with pytest.raises(ValueError, match="untwisted"):
        shortening(QUARTER, [0.0])
    for angle in (0.0, 90.0, -5.0):
        with pytest.raises(ValueError, match="surface angle"):
            twist_from_angle(Measured(angle, 1.0), Measured(1e-3, 0.0))
    with pytest.raises(ValueError, match="half_width"):
        samples_needed(0.1, 0.0)
