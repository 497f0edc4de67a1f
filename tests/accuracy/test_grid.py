"""A part of the grid of docs/accuracy.md in every test run; `grid.py` runs all of it."""

from functools import cache

import numpy as np
import pytest
from scipy.stats import binom
from tests.accuracy.bound import best_known
from tests.accuracy.grid import judged, row
from tests.accuracy.grid_cells import CELLS
from tests.accuracy.grid_page import HEAD, PAGE

LOGS = 40
#: One cell of each kind: no slip, slip like the timing noise, slip far above it, wheel pulses missing, few turns.
SOME = (
    "plain: plain",
    "slip noise: slip 0.003",
    "jitter, slip, turns: 200 µs, 0.03, 60",
    "faults: wheel 3 % missed, slip 0.03",
    "targets: 4 wheel, 1 flyer",
    "length: 24 turns",
)


@cache
def of(key):
    return row(key, [judged(key, number) for number in range(LOGS)])


@pytest.mark.parametrize("key", SOME)
def test_intervals_cover_and_the_estimate_is_as_good_as_with_known_noise(key):
    found = of(key)
    assert found.refused == 0
    # a true coverage of 93 % gives fewer but once in 1000 (binomial)
    assert round(found.covered * LOGS) >= binom.ppf(0.001, LOGS, 0.93)
    # on the same logs as least squares that knows the noise: what is left of chance is said by efficiency_u
    assert found.efficiency + 3 * found.efficiency_u >= 0.9
    # mean squares of 40 logs are sure to 22 % (one standard error)
    assert 0.35 < found.known_over_bound < 2.0
    assert abs(found.bias) <= 0.1 + 3 * found.rms / np.sqrt(LOGS)


def test_without_slip_a_line_of_passages_beats_counting_by_what_the_closed_form_says():
    # 2σ²/N² over 12σ²/(N(N+1)(N+2)): (N + 1)(N + 2)/(6N), some 9.8 for 56 turns; two mean squares of 40 logs each
    found = of("plain: plain")
    n = found.turns
    assert found.over_count == pytest.approx((n + 1) * (n + 2) / (6 * n), rel=0.65)


def test_the_bound_is_the_closed_form_without_slip_and_the_count_without_timing_noise():
    n, sigma, q = 40, 0.002, 0.03
    numbers = (tuple(range(n + 1)),)
    assert best_known(numbers, 1, sigma, 0.0, 8.4).u ** 2 == pytest.approx(
        12 * sigma**2 / (n * (n + 1) * (n + 2)), rel=1e-6
    )
    corner = q * np.sqrt(1 / (6 * 8.4))  # y's noise when only slip between flyer pulses makes it
    exact = best_known(numbers, 1, corner, q, 8.4)
    np.testing.assert_allclose(exact.weights, 1 / n, atol=1e-6)
    assert exact.u == pytest.approx(np.sqrt(2) * corner / n, rel=1e-6)


def test_two_cells_share_no_chance():
    seeds = {cell.seed(0) // 100_000 for cell in CELLS.values()}
    assert len(seeds) == len(CELLS)
    some = CELLS["plain: plain"]
    assert some.scenario(3) == some.scenario(3)
    assert some.scenario(3) != some.scenario(4)


def test_the_page_has_every_cell_of_the_grid():
    written = PAGE.read_text(encoding="utf-8")
    assert HEAD in written
    for key in CELLS:
        group, name = key.split(": ", 1)
        assert f"## {group}\n" in written
        assert f"| {name} |" in written
