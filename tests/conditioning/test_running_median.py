"""The running median against scipy's filter and the plain definition."""

import numpy as np
import pytest
from scipy.ndimage import median_filter

from whorlpulse.conditioning.running_median import running_median_9


@pytest.mark.parametrize("n", [9, 10, 50, 1000, 32_768, 32_768 + 17, 70_001])
def test_inside_it_is_scipys_filter(n):
    values = np.random.default_rng(n).lognormal(size=n)
    np.testing.assert_array_equal(running_median_9(values)[4 : n - 4], median_filter(values, 9)[4 : n - 4])


def test_ties_and_order_do_not_matter():
    values = np.random.default_rng(1).integers(0, 3, 500).astype(float)
    naive = [sorted(values[i - 4 : i + 5])[4] for i in range(4, 496)]
    np.testing.assert_array_equal(running_median_9(values)[4:496], naive)


def test_the_ends_take_the_larger_of_two_medians_by_hand():
    # a shaft that starts up: long intervals first. Outermost nine: median 4; nearest five of value 0: 8, 7, 6 -> 7.
    values = np.array([8.0, 7, 6, 5, 4, 3, 2, 1, 0, 0, 0, 0])
    found = running_median_9(values)
    assert found[0] == np.median([8, 7, 6]) == 7.0
    assert found[1] == np.median([8, 7, 6, 5]) == 6.5
    assert found[3] == np.median([7, 6, 5, 4, 3]) == 5.0
    # running down into small values the outermost nine's is the larger: 5 4 3 2 1 0 0 0 0 -> 1
    np.testing.assert_array_equal(found[-4:], [1.0, 1.0, 1.0, 1.0])


@pytest.mark.parametrize("n", [1, 2, 5, 8])
def test_fewer_than_nine_share_one_median(n):
    values = np.random.default_rng(n).random(n)
    np.testing.assert_array_equal(running_median_9(values), np.full(n, np.median(values)))


def test_none_gives_none():
    assert running_median_9(np.empty(0)).shape == (0,)


def test_four_wrong_intervals_in_nine_cannot_carry_it_off():
    values = np.full(99, 0.1)
    values[40:44] = 7.0
    np.testing.assert_array_equal(running_median_9(values), np.full(99, 0.1))
