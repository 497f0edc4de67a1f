"""Crossing times: exact for known paths, each turn once, both ways round."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from whorlpulse.simulate.path import Path, from_speed, joined


def rippled(t):
    return 1.1 * t + 0.35 / (2.0 * math.pi) * np.sin(2.0 * math.pi * 1.1 * t)


def rippled_path(step_s=0.005, end_s=20.0):
    t = np.linspace(0.0, end_s, round(end_s / step_s) + 1)
    return Path(t, rippled(t), 1.1 * (1.0 + 0.35 * np.cos(2.0 * math.pi * 1.1 * t)))


def test_passages_of_an_analytic_motion_to_a_tenth_of_a_microsecond():
    # a wheel with ± 35 % ripple; the reference is a bracketing root finder on the formula itself
    found = rippled_path().passages(0.3)
    roots = [brentq(lambda t, n=n: rippled(t) - n - 0.3, 0.0, 21.0, xtol=1e-14) for n in range(len(found))]
    assert len(found) == math.floor(rippled(20.0) - 0.3) + 1
    np.testing.assert_allclose(found, roots, atol=1e-7)


def test_passages_lie_on_the_path_itself_to_rounding():
    path = rippled_path()
    times = path.passages(0.77)
    np.testing.assert_allclose(path.at(times), np.arange(len(times)) + 0.77, atol=1e-12)


def test_constant_acceleration_is_integrated_exactly():
    t = np.linspace(0.0, 3.0, 31)
    path = from_speed(t, 2.0 * t, 0.0)  # turns = t²
    np.testing.assert_allclose(path.passages(0.0), np.sqrt(np.arange(1, 10)), atol=1e-13)
    assert path.at(1.234) == pytest.approx(1.234**2, abs=1e-13)


def test_a_coarse_step_may_hold_several_passages():
    t = np.array([0.0, 1.0])
    path = Path(t, np.array([0.0, 5.0]), np.array([5.0, 5.0]))
    np.testing.assert_allclose(path.passages(0.5), [0.1, 0.3, 0.5, 0.7, 0.9], atol=1e-13)


def test_turning_back_meets_the_far_edge():
    # 0.6 − 0.6 (t − 1)²: a target from 0.40 to 0.42 is met at 0.40 going up and at 0.42 coming back
    there = Path(np.array([0.0, 1.0]), np.array([0.0, 0.6]), np.array([1.2, 0.0]))
    back = Path(np.array([1.0, 2.0]), np.array([0.6, 0.0]), np.array([0.0, -1.2]))
    assert there.passages(0.4, 0.02) == pytest.approx([1.0 - math.sqrt(1.0 / 3.0)], abs=1e-12)
    both = joined([there, back]).passages(0.4, 0.02)
    assert both == pytest.approx([1.0 - math.sqrt(1.0 / 3.0), 1.0 + math.sqrt(0.3)], abs=1e-12)


def test_rocking_within_a_target_does_not_repeat_it_but_leaving_does():
    t = np.array([0.0, 1.0, 2.0, 3.0])
    inside = Path(t, np.array([0.0, 0.105, 0.102, 0.3]), np.zeros(4))
    assert len(inside.passages(0.1, 0.01)) == 1
    left_behind = Path(t, np.array([0.0, 0.105, 0.05, 0.3]), np.zeros(4))
    assert len(left_behind.passages(0.1, 0.01)) == 2


def test_a_standing_shaft_is_silent():
    t = np.array([0.0, 10.0])
    assert len(Path(t, np.array([0.5, 0.5]), np.zeros(2)).passages(0.5, 0.01)) == 0
