"""Cutting a series where its level changes, against exhaustive search over every cut, and against steps put in."""

import itertools

import numpy as np
import pytest

from whorlpulse.estimators import segments
from whorlpulse.estimators.segments import level_segments


def cost(weight, value, edges, penalty):
    total = penalty * (len(edges) - 1)
    for i, j in itertools.pairwise(edges):
        mean = np.average(value[i:j], weights=weight[i:j])
        total += float((weight[i:j] * (value[i:j] - mean) ** 2).sum())
    return total


@pytest.mark.parametrize("seed", range(25))
def test_no_other_cutting_is_cheaper(seed):
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 11))
    weight = rng.uniform(0.2, 2.0, n)
    value = 200 + 40 * (rng.random(n) < 0.4) + 3 * rng.standard_normal(n)
    edges = level_segments(weight, value)
    penalty = segments._PENALTY * (np.log(n) + 3) * segments._noise(weight, value)
    every = ([0, *cuts, n] for count in range(n) for cuts in itertools.combinations(range(1, n), count))
    best = min(cost(weight, value, e, penalty) for e in every)
    assert edges[0] == 0
    assert edges[-1] == n
    assert cost(weight, value, edges, penalty) == pytest.approx(best, rel=1e-9, abs=1e-6)


def test_a_dip_in_the_middle_is_found_where_it_is():
    rng = np.random.default_rng(1)
    for _ in range(20):
        value = 205 * (1 + 0.03 * rng.standard_normal(60))
        value[24:29] = 130 * (1 + 0.03 * rng.standard_normal(5))
        assert level_segments(np.full(60, 0.5), value) == [0, 24, 29, 60]


def test_an_even_yarn_is_rarely_cut():
    rng = np.random.default_rng(2)
    cut = sum(len(level_segments(np.full(60, 0.5), 205 * (1 + 0.03 * rng.standard_normal(60)))) > 2 for _ in range(200))
    assert cut <= 4  # measured: 0 of these 200; the penalty is strict because the noise is estimated


def test_the_noise_is_not_raised_by_the_levels():
    rng = np.random.default_rng(3)
    weight = rng.uniform(0.3, 0.6, 4000)
    value = np.repeat([200.0, 130.0, 260.0, 180.0], 1000) + 5 * rng.standard_normal(4000) / np.sqrt(weight)
    assert segments._noise(weight, value) == pytest.approx(25.0, rel=0.1)


@pytest.mark.parametrize("n", [0, 1])
def test_nothing_to_cut(n):
    assert level_segments(np.ones(n), np.ones(n)) == [0, n]
    assert level_segments(np.ones(5), np.full(5, 3.0)) == [0, 5]
