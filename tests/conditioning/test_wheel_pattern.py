"""Uneven wheel targets numbered from their gaps, against an exhaustive search and the numbers that were put in."""

import itertools

import numpy as np
import pytest

from whorlpulse.conditioning.wheel_pattern import Pattern, decode, follows, learn_pattern

ANGLE = np.array([0.0, 0.30, 0.444, 0.78])  # four magnets up to 20° off their places
RATIO = 8.37


def passages(turns, start=0, noise=0.002, seed=0):
    """Flyer passages y (n,) at wheel targets, and which passage each is."""
    number = np.arange(start, start + 4 * turns)
    turned = number // 4 + ANGLE[number % 4]
    return RATIO * (turned + noise * np.random.default_rng(seed).standard_normal(len(number))), number


def relative(pattern):
    """The pattern's gaps, from the largest on: it doesn't matter which target the log began with."""
    gaps = np.diff(np.append(pattern.angle, 1.0))
    return np.roll(gaps, -int(np.argmax(gaps)))


@pytest.mark.parametrize("start", [0, 1, 2, 3])
def test_the_pattern_is_learned_from_a_log_with_faults(start):
    y, _ = passages(40, start)
    y = np.delete(y, [3, 60, 61])
    found = learn_pattern(y, 4)
    assert found.turn == pytest.approx(RATIO, rel=0.002)
    true = np.diff(np.append(ANGLE, 1.0))
    np.testing.assert_allclose(relative(found), np.roll(true, -int(np.argmax(true))), atol=0.004)


def test_without_a_part_that_repeats_nothing_is_learned():
    rng = np.random.default_rng(0)
    assert learn_pattern(np.cumsum(rng.uniform(0.5, 3.0, 100)), 4) is None
    assert learn_pattern(np.arange(19) * 2.0, 4) is None


@pytest.mark.parametrize("seed", range(12))
def test_numbers_are_right_with_missed_and_extra_pulses(seed):
    rng = np.random.default_rng(seed)
    y, number = passages(60, start=seed % 4, seed=seed)
    gone = rng.choice(np.arange(8, 230), 7, replace=False)
    y, number = np.delete(y, gone), np.delete(number, gone)
    added = np.sort(rng.choice(np.arange(8, 220), 5, replace=False))
    # not nearer than 0.08 of a turn to either neighbour, or it could as well be the passage itself
    place = y[added] + RATIO * 0.5 * np.minimum(np.diff(y)[added] / RATIO, 0.34)
    is_added = np.insert(np.zeros(len(y), bool), added + 1, True)
    mixed = np.insert(y, added + 1, place)
    passage, extra = decode(mixed, Pattern(ANGLE, RATIO))
    assert int((extra != is_added).sum()) <= 1
    right = (passage - passage[0])[~extra & ~is_added]
    np.testing.assert_array_equal(right, (number - number[0])[~extra[~is_added]])
    np.testing.assert_array_equal(passage[~extra & ~is_added] % 4, number[~extra[~is_added]] % 4)


def path_cost(u, targets_at, pattern):
    """What one numbering costs, written out: squared misfit (at most 14) and 7 for each missed target, none extra."""
    cost = 0.0
    n = len(pattern.angle)
    for i in range(1, len(u)):
        jump = targets_at[i] - targets_at[i - 1]
        turned = (pattern.angle[targets_at[i] % n] + targets_at[i] // n) - (
            pattern.angle[targets_at[i - 1] % n] + targets_at[i - 1] // n
        )
        cost += min(((u[i] - u[i - 1] - turned) / 0.025) ** 2, 14.0) + 7.0 * min(jump - 1, 4)
    return cost


@pytest.mark.parametrize("seed", range(6))
def test_the_path_is_the_cheapest_of_all(seed):
    pattern = Pattern(np.array([0.0, 0.3, 0.55]), 1.0)
    rng = np.random.default_rng(seed)
    number = np.cumsum(np.concatenate(([rng.integers(3)], rng.choice([1, 1, 1, 2], 6))))
    u = pattern.angle[number % 3] + number // 3 + 0.02 * rng.standard_normal(7)
    passage, extra = decode(u, pattern)
    if extra.any():
        pytest.fail("nothing was extra")
    all_paths = (
        np.cumsum(np.concatenate(([first], steps)))
        for first in range(3)
        for steps in itertools.product([1, 2, 3, 4], repeat=6)
    )
    best = min(path_cost(u, path, pattern) for path in all_paths)
    assert path_cost(u, passage, pattern) == pytest.approx(best, abs=1e-9)


def test_follows_is_strict():
    y, _ = passages(20)
    assert follows(y, Pattern(ANGLE, RATIO))
    assert not follows(np.delete(y, 30), Pattern(ANGLE, RATIO))
    assert Pattern(np.arange(4) / 4, 1.0).unevenness == pytest.approx(0.0)
    assert Pattern(ANGLE, 1.0).unevenness == pytest.approx(0.424, abs=1e-9)  # the gap of 0.144 for 0.25
