"""The board's clock from sync lines: against numpy and scipy's lines, the GUM's worked line, and known clocks."""

import numpy as np
import pytest
from scipy import stats

from whorlpulse.conditioning.unwrap import unwrap
from whorlpulse.estimators.board_clock import board_clock, fit_rate, uncorrected
from whorlpulse.logfile.header import Sync
from whorlpulse.pulses import KEEP_ALIVE, Rows

UNIX = 1_000_000_000.0


def kept_alive(seconds, rate=1.0, start_tick=0, bits=32):
    """A board's keep-alives, one a true second, on a clock that runs by `rate`."""
    true_s = np.arange(0.0, seconds)
    tick = (start_tick + np.floor(true_s * rate * 1e6).astype(np.int64)) & ((1 << bits) - 1)
    return Rows(tick, np.full(len(tick), KEEP_ALIVE, np.uint8)), true_s


def stamped(rows, true_s, every, late_s):
    """A sync line after every so many rows, late by late_s (n,)."""
    at = np.arange(0, len(true_s), every)
    return [Sync(UNIX + true_s[i] + d, int(rows.tick[i]), int(i) + 1) for i, d in zip(at, late_s, strict=False)]


def clock_of(rows, syncs, bits=32):
    return board_clock(rows, unwrap(rows, 1e6, bits), syncs, 1e6, bits)


@pytest.mark.parametrize("ppm", [3000.0, -3000.0, 40.0])
@pytest.mark.parametrize("seed", range(5))
def test_a_clock_3000_ppm_off_is_found_to_100_ppm_in_three_minutes(ppm, seed):
    rng = np.random.default_rng(seed)
    rows, true_s = kept_alive(180, 1 + 1e-6 * ppm)
    late = rng.exponential(0.003, 18)
    late[rng.integers(0, 18, 3)] += 0.4  # three stamps that came very late
    found = clock_of(rows, stamped(rows, true_s, 10, late))
    assert found.source == "sync"
    assert found.rate.value == pytest.approx(1 / (1 + 1e-6 * ppm), abs=100e-6)
    assert found.rate.low < 1 / (1 + 1e-6 * ppm) < found.rate.high
    assert found.rate.half_width < 300e-6


def test_intervals_hold_the_true_rate():
    rng = np.random.default_rng(8)
    inside = []
    for _ in range(300):
        x = np.arange(0.0, 120.0, 10.0)
        late = rng.uniform(0.0, 0.02, len(x))
        found = fit_rate(x, UNIX + x + late, np.zeros(len(x), np.int64))
        inside.append(found.low <= 1.0 <= found.high)
    assert np.mean(inside) >= 0.93


def test_without_noise_it_is_the_least_squares_line():
    x = np.linspace(0.0, 300.0, 31)
    y = UNIX + 1.0021 * x
    found = fit_rate(x, y, np.zeros(31, np.int64))
    slope = np.polyfit(x, y - UNIX, 1)[0]
    assert found.value == pytest.approx(slope, abs=1e-9)


def test_beside_scipys_robust_line():
    rng = np.random.default_rng(2)
    x = np.linspace(0.0, 300.0, 31)
    y = 0.9985 * x + 0.01 * rng.standard_normal(31)
    y[[4, 20]] += 1.0
    found = fit_rate(x, UNIX + y, np.zeros(31, np.int64))
    robust = stats.theilslopes(y, x)
    assert robust.low_slope < found.value < robust.high_slope
    assert abs(np.polyfit(x, y, 1)[0] - 0.9985) > 2 * abs(found.value - 0.9985)  # two late stamps bend least squares


def test_the_gums_worked_line():
    """GUM H.3, as GTC's documentation prints it: thermometer corrections b on readings t; slope 0.00218, s 0.00067."""
    t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    found = fit_rate(np.array(t), np.array(t) + np.array(b), np.zeros(11, np.int64))
    assert found.value - 1.0 == pytest.approx(0.00218, abs=0.00067)


def test_a_clock_that_wraps_and_a_board_that_begins_again():
    rows, true_s = kept_alive(300, 1.002, start_tick=(1 << 24) - 5_000_000, bits=24)
    syncs = stamped(rows, true_s, 10, np.zeros(30))
    assert clock_of(rows, syncs, 24).rate.value == pytest.approx(1 / 1.002, abs=2e-6)
    second, later_s = kept_alive(120, 1.002)
    again = Rows(np.concatenate((kept_alive(120, 1.002)[0].tick, second.tick)), np.full(240, KEEP_ALIVE, np.uint8))
    parts = stamped(second, later_s, 10, np.zeros(12))
    moved = [Sync(s.unix_s + 500.0, s.tick, s.row + 120) for s in parts]
    found = clock_of(again, [*parts, *moved])
    # the 380 s that nobody timed must not enter the rate
    assert found.rate.value == pytest.approx(1 / 1.002, abs=2e-6)


def test_what_can_not_correct_says_so():
    rows, true_s = kept_alive(60)
    assert clock_of(rows, []).source == "none"
    assert clock_of(rows, stamped(rows, true_s, 100, [0.0])).source == "too-few"
    near = [Sync(UNIX + 1.0, 1_000_000, 2), Sync(UNIX + 2.0, 2_000_000, 3)]
    assert clock_of(rows, near).source == "too-few"
    twice = [Sync(UNIX + 2 * t, int(t * 1e6), int(t) + 1) for t in range(0, 60, 10)]
    assert clock_of(rows, twice).source == "unbelievable"
    # GUM 4.3.7: a rectangle of half width 0.5 %
    assert uncorrected().rate.u == pytest.approx(0.005 / np.sqrt(3))


def test_a_day_of_stamps_is_thinned():
    rows, true_s = kept_alive(20_000, 0.998)
    found = clock_of(rows, stamped(rows, true_s, 10, np.zeros(2000)))
    assert found.stamps == 2000
    assert found.rate.value == pytest.approx(1 / 0.998, abs=1e-7)
