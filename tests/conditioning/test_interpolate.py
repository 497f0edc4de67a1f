"""The monotone cubic against scipy's splines, in turns, and its promise never to turn back."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.interpolate import CubicSpline, PchipInterpolator

from whorlpulse.conditioning.interpolate import monotone_cubic


def treadled(turns=60, ratio=8.37, ripple=0.15):
    """Flyer passages of a wheel whose speed ripples once a turn: times (n,) and exact turns by a fine solution."""
    phase = np.linspace(0, turns, 400_001)
    t = phase - ripple / (2 * np.pi) * np.sin(2 * np.pi * phase)  # dt/dphase = 1 - ripple cos: smooth and known
    knots = np.arange(int(turns * ratio)) / ratio
    return knots - ripple / (2 * np.pi) * np.sin(2 * np.pi * knots), np.arange(len(knots)), phase * ratio, t


def test_inside_it_follows_scipys_cubic_spline():
    # Six Jacobi sweeps leave 2**-6 of the first error of the slopes. Measured: 6e-5 turns; a flyer stamp of 20 µs at
    # 8 turns/s is 1.6e-4 turns.
    x, y, _, _ = treadled()
    at = np.linspace(x[8], x[-9], 20_011)
    off = monotone_cubic(x, y.astype(float), at) - CubicSpline(x, y)(at)
    assert np.abs(off).max() < 1.6e-4


def test_it_is_nearer_the_true_motion_than_pchip():
    x, y, true_y, true_t = treadled()
    at = np.linspace(x[8], x[-9], 20_011)
    truth = np.interp(at, true_t, true_y)
    ours = np.abs(monotone_cubic(x, y.astype(float), at) - truth).max()
    pchip = np.abs(PchipInterpolator(x, y)(at) - truth).max()
    assert ours < 1.2e-3  # turns; at 15 % ripple and 8 pulses a period
    assert ours < 0.5 * pchip


steps = arrays(float, st.integers(2, 60), elements=st.floats(1e-6, 50.0))


@settings(max_examples=200, deadline=None)
@given(steps, st.data())
def test_it_never_turns_back_and_meets_its_knots(width, data):
    rise = data.draw(arrays(float, len(width), elements=st.floats(0.0, 20.0)))
    x, y = np.cumsum(width), np.cumsum(rise)
    at = np.linspace(x[0], x[-1], 997)
    found = monotone_cubic(x, y, at)
    tiny = 1e-9 * (1 + y[-1])
    assert np.isfinite(found).all()
    assert (np.diff(found) >= -tiny).all()
    assert found.min() >= y[0] - tiny
    assert found.max() <= y[-1] + tiny
    np.testing.assert_allclose(monotone_cubic(x, y, x), y, atol=tiny)


def test_a_straight_line_stays_straight():
    x = np.cumsum(np.random.default_rng(0).uniform(0.2, 1.8, 200))
    at = np.linspace(x[0], x[-1], 1111)
    np.testing.assert_allclose(monotone_cubic(x, 3.5 * x + 2, at), 3.5 * at + 2, rtol=1e-12)


def test_nothing_is_said_outside_the_knots():
    found = monotone_cubic(np.array([1.0, 2.0, 3.0]), np.array([0.0, 1.0, 2.0]), np.array([0.999, 1.0, 3.0, 3.001]))
    np.testing.assert_array_equal(np.isnan(found), [True, False, False, True])
    np.testing.assert_allclose(found[1:3], [0.0, 2.0])
    assert np.isnan(monotone_cubic(np.array([1.0]), np.array([0.0]), np.array([1.0]))).all()
    assert monotone_cubic(np.array([1.0, 2.0]), np.array([0.0, 1.0]), np.empty(0)).shape == (0,)


def test_two_knots_make_a_line_and_of_equal_knots_the_first_counts():
    np.testing.assert_allclose(
        monotone_cubic(np.array([0.0, 2.0]), np.array([1.0, 5.0]), np.array([0.5, 1.5])), [2.0, 4.0]
    )
    doubled = monotone_cubic(np.array([0.0, 1.0, 1.0, 2.0]), np.array([0.0, 1.0, 9.0, 2.0]), np.array([1.0]))
    assert doubled == pytest.approx(1.0)
