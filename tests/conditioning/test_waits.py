"""What is done block by block is, to the last bit, what the plain numpy expressions give."""

from __future__ import annotations

import numpy as np
import pytest

from whorlpulse.conditioning import waits
from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.interpolate import _REACH, _evaluate, _slopes_of, monotone_cubic
from whorlpulse.conditioning.running_median import running_median_9, running_median_of_waits, running_waits


def pulses(n: int, seed: int = 5) -> np.ndarray:
    return np.cumsum(np.random.default_rng(seed).lognormal(0.0, 0.6, n))


@pytest.mark.parametrize("n", [2, 3, 9, 10, 11, 8_191, 8_192, 8_193, 8_200, 8_201, 8_210, 16_400, 100_003])
def test_running_medians_of_waits_are_those_of_the_differences(n):
    x = pulses(n)
    wait = np.diff(x)
    blocks = list(running_waits(x))
    np.testing.assert_array_equal(np.concatenate([b for _, b, _ in blocks]), wait)
    np.testing.assert_array_equal(running_median_of_waits(x), running_median_9(wait))
    if n > 20:
        middle = np.median(np.lib.stride_tricks.sliding_window_view(wait, 9), axis=1)
        np.testing.assert_array_equal(running_median_9(wait)[4:-4], middle)


@pytest.mark.parametrize("n", [2, 3, 1000, 200_000, 200_001])
@pytest.mark.parametrize("kind", ["seconds", "ticks", "all alike", "faster and faster"])
def test_median_wait_is_numpys(n, kind):
    x = pulses(n)
    t = {
        "seconds": x,
        "ticks": np.rint(1e4 * x).astype(np.int64),
        "all alike": np.arange(n) * 3,
        "faster and faster": np.sqrt(x),
    }[kind]
    assert waits.median_wait(t) == np.median(np.diff(t))


def test_median_wait_where_the_sample_deceives():
    """Every wait that the sample picks is a long one, all others are short."""
    n = 1 << 18
    wait = np.ones(n)
    wait[:: n // waits._SAMPLE] = 7.0
    t = np.append(0.0, np.cumsum(wait))
    assert waits.median_wait(t) == np.median(np.diff(t)) == 1.0


def test_long_waits_and_falls_are_found_in_any_block():
    t = np.arange(60_000.0)
    for at in (0, 16_383, 16_384, 59_998):
        later = t.copy()
        later[at + 1 :] += 5.0
        assert waits.waits_above(later, 3.0).tolist() == [at]
        assert waits.rises(later)
        later[at + 1] = later[at]
        assert not waits.rises(later)


@pytest.mark.parametrize("n", [16_385, 40_000, 16_384 * 2 + 1])
def test_the_curve_in_blocks_is_the_curve_as_a_whole(n):
    """Held against slopes that are worked out over all knots at once; places on knots and beyond both ends included."""
    x, y = pulses(n), np.arange(n, dtype=np.int64)
    places = np.sort(np.concatenate((pulses(n // 8, 2) * 8, x[::997], x[-1:], [x[0] - 1.0, x[-1] + 1.0])))
    inside = (places >= x[0]) & (places <= x[-1])
    i = np.minimum(np.searchsorted(x, places[inside], side="right") - 1, n - 2)
    right, width = i + 1, x[i + 1] - x[i]
    slope = _slopes_of(x, y.astype(float))
    s, m0, m1 = (places[inside] - x[i]) / width, slope[i] * width, slope[right] * width
    want = i + s * (m0 + s * (3 - 2 * m0 - m1 + s * (m0 + m1 - 2)))
    got = monotone_cubic(x, y, places)
    np.testing.assert_array_equal(got[inside], want)
    assert np.isnan(got[~inside]).all()
    np.testing.assert_array_equal(monotone_cubic(x, y.astype(float), places), got)
    shuffled = np.random.default_rng(1).permutation(len(places))
    np.testing.assert_array_equal(monotone_cubic(x, y, places[shuffled]), got[shuffled])
    np.testing.assert_array_equal(_evaluate(x, y, places[inside], i), want)
    assert _REACH < 16_384


def test_passages_are_remembered_for_the_same_times_only():
    counted = Counted.one_each(pulses(50))
    t = counted.t_s[:-1] + 0.1 * np.diff(counted.t_s)
    first = counted.passages_at(t)
    assert counted.passages_at(t) is first
    other = t + 1e-3
    np.testing.assert_array_equal(counted.passages_at(other), monotone_cubic(counted.t_s, counted.passage, other))
    assert not np.array_equal(counted.passages_at(other), first, equal_nan=True)
