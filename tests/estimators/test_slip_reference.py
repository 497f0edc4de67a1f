"""What slip is reckoned against: the order of the sources, whose uncertainty, and this log's own best stretches."""

from __future__ import annotations

import numpy as np
import pytest

from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.slip_reference import (
    Reference,
    known_whorls,
    own_best,
    reference_for,
    stretch_ratios,
)
from whorlpulse.rig import Length, Rig, Whorl

INCH = 0.0254
GIVEN = Reference(Measured(6.21, 0.01), "given")
OTHER = Reference(Measured(6.22, 0.002), "other-capture")
FILE = Reference(Measured(6.25, 0.02), "wheel-file", "large")


def test_what_was_given_wins_then_the_other_log_then_the_file():
    ratio = Measured(6.1, 0.001)
    assert reference_for(ratio, [FILE, OTHER, GIVEN]) == GIVEN
    assert reference_for(ratio, [FILE, OTHER]) == OTHER
    assert reference_for(ratio, [FILE]) == FILE
    assert reference_for(ratio, []) is None


def test_each_whorl_takes_its_own_and_the_rest_falls_through():
    """A given ratio for one whorl is none for another."""
    middle = Reference(Measured(8.47, 0.04), "wheel-file", "middle")
    assert reference_for(Measured(6.1, 0.001), [GIVEN, FILE, middle]) == GIVEN
    assert reference_for(Measured(11.7, 0.001), [GIVEN, FILE, middle]) is None
    found = reference_for(Measured(8.4, 0.001), [FILE, middle])
    assert found is not None
    assert (found.name, found.rival) == ("middle", None)


def test_much_slip_may_be_the_next_whorl_and_says_so():
    near, far = (Reference(Measured(r, 0.01), "wheel-file", n) for r, n in ((8.0, "a"), (9.0, "b")))
    found = reference_for(Measured(7.9, 0.001), [near, far])
    assert found is not None
    assert (found.name, found.rival) == ("a", "b")


def test_whorls_of_the_file_by_ratio_and_by_printed_diameters():
    """8 in cylinder, whirl 1 1/8 in, band 1/8 in: 6.500 (machine builder's catalogue, p. 206; read, recomputed)."""
    rig = Rig(
        wheel_diameter=Length(8 * INCH, 0.0),
        band_thickness=Length(INCH / 8, 0.0),
        whorls=(
            Whorl("by diameters", Length(9 / 8 * INCH, 0.0005)),
            Whorl("measured", ratio=6.21, ratio_u=0.01),
            Whorl("?"),
        ),
    )
    by_diameters, measured = known_whorls(rig)
    assert by_diameters.by_diameters
    assert by_diameters.ratio.value == pytest.approx(6.5, abs=5e-4)
    # calipers good to 0.5 mm on 31.75 mm with the band: R/(d + t) u(d) (GUM 5.1.2)
    assert by_diameters.ratio.u == pytest.approx(6.5 * 0.0005 / (10 / 8 * INCH), rel=1e-9)
    assert not measured.by_diameters
    assert measured.ratio == Measured(6.21, 0.01)


def test_the_best_of_mere_noise_is_no_better_than_the_rest():
    rng = np.random.default_rng(0)
    leads = [
        own_best(8.4 + 0.001 * rng.standard_normal(12), 0.01, Measured(8.4, 0.0003)).ratio.value - 8.4
        for _ in range(200)
    ]
    # without the shrinking it would lead by 1.2 standard deviations, 0.0012
    assert np.mean(leads) < 0.0004


def test_a_log_that_slips_for_a_half_leads_by_its_better_half():
    kept = np.concatenate((np.full(6, 8.40), np.full(6, 8.20))) + 1e-4 * np.arange(12)
    found = own_best(kept, 1e-4, Measured(float(kept.mean()), 1e-4))
    assert found.source == "this-capture"
    assert found.ratio.value == pytest.approx(8.40, abs=0.001)


def test_too_few_stretches_take_the_whole():
    whole = Measured(8.4, 0.001)
    assert own_best(np.array([8.3, 8.5]), 0.01, whole).ratio == whole


def test_stretches_are_ten_turns_without_what_is_struck_out():
    turns = np.arange(121) / 4.0
    y = 8.0 * turns
    y[50:] -= 1.0
    ordinary = np.ones(120, bool)
    ordinary[49] = False
    np.testing.assert_allclose(stretch_ratios(turns, y, ordinary), [8.0, 8.0, 8.0], rtol=1e-12)
    ordinary[:] = True
    assert stretch_ratios(turns, y, ordinary)[1] == pytest.approx(7.9)
