"""Sensors and board: faults as often as set, ticks and counts as the format says."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from whorlpulse.simulate import Board, Sensor, scenario, simulate
from whorlpulse.simulate.path import Path
from whorlpulse.simulate.sensors import watch
from whorlpulse.wire import Decoder, Pulse

EVEN = Path(np.array([0.0, 20_000.0]), np.array([0.0, 40_000.0]), np.array([2.0, 2.0]))  # 2 turns/s


def watched(seed=1, **faults):
    return watch(Sensor("f", start_angle=0.25, **faults), EVEN, np.random.default_rng(seed))


def within(count, n, p, sigmas=4.5):
    """Whether a binomial count lies within sigmas of its mean."""
    return abs(count - n * p) < sigmas * np.sqrt(n * p * (1.0 - p))


def test_a_faultless_sensor_reports_each_passage():
    found = watched(jitter_s=0.0)
    np.testing.assert_allclose(found.t_s, 0.375 + 0.5 * np.arange(40_000), atol=1e-9)
    assert (found.missed, found.doubled, found.bounced) == (0, 0, 0)


def test_jitter_has_its_standard_deviation():
    found = watched(jitter_s=150e-6)
    error = found.t_s - found.passages
    # 40 000 values: the standard deviation's own error is 150 µs/√80000 = 0.53 µs
    assert np.std(error) == pytest.approx(150e-6, abs=4.5 * 0.53e-6)
    assert abs(np.mean(error)) < 4.5 * 150e-6 / 200.0


def test_missed_and_doubled_and_bounced_come_as_often_as_set():
    found = watched(missed=0.03, doubled=0.02, bounced=0.05)
    assert within(found.missed, 40_000, 0.03)
    assert within(found.doubled, 40_000, 0.02)
    # a bounce comes twice in three of ten
    assert abs(found.bounced - 40_000 * 0.97 * 0.05 * 1.3) < 4.5 * np.sqrt(40_000 * 0.05 * 2.0)
    assert len(found.t_s) == 40_000 - found.missed + found.doubled + found.bounced


def test_bounces_follow_within_4_ms_and_doubles_within_half_an_interval():
    bounces = watched(jitter_s=0.0, bounced=0.2)
    late = (bounces.t_s - 0.375) % 0.5
    late = late[(late > 1e-7) & (late < 0.4999999)]
    assert len(late) == bounces.bounced
    assert 0.2e-3 <= late.min() < late.max() <= 4.0e-3
    doubles = watched(jitter_s=0.0, doubled=0.2)
    late = (doubles.t_s - 0.375) % 0.5
    late = late[(late > 1e-7) & (late < 0.4999999)]
    assert len(late) == doubles.doubled
    assert late.max() <= 0.25 + 1e-9
    assert np.mean(late) == pytest.approx(0.13, abs=0.005)


def test_uneven_targets_come_in_their_order():
    sensor = Sensor("w", (0.0, 0.3, 0.45), start_angle=0.1, jitter_s=0.0)
    found = watch(sensor, EVEN, np.random.default_rng(0)).t_s[:6]
    np.testing.assert_allclose(found, np.array([0.2, 0.35, 0.9, 1.2, 1.35, 1.9]) / 2.0, atol=1e-9)


@pytest.mark.parametrize("angles", [(), (0.1,), (0.0, 0.5, 0.4), (0.0, 1.0), (0.0, 0.0)])
def test_impossible_targets_are_refused(angles):
    with pytest.raises(ValueError, match="target angles"):
        Sensor("w", angles)


def test_ticks_round_down_and_wrap():
    board = Board(tick_hz=1024.0, tick_bits=16, start_tick=65_530)
    assert board.ticks(np.array([0.0, 0.9 / 1024, 5.999 / 1024, 6.0 / 1024, 64.0])).tolist() == [
        65_530,
        65_530,
        65_535,
        0,
        65_530,
    ]
    fast = Board(clock_error_ppm=5000.0, start_tick=0)
    assert fast.ticks(np.array([100.0000005])).tolist() == [100_500_000]


def test_counts_by_the_second_add_up_and_tell_the_last_passage():
    truth_case = replace(scenario("coarse-clock"), sensors=(Sensor("w", jitter_s=0.0), Sensor("f", jitter_s=0.0)))
    capture = simulate(truth_case, 5)
    decoder = Decoder()
    rows = [m for m in decoder.feed(capture.log) if isinstance(m, Pulse)]
    start = rows[0].tick
    for channel in "wf":
        lines = [m for m in rows if m.channel == channel]
        passed = capture.truth.passages_s(channel)
        done = np.cumsum([m.count for m in lines])
        assert done[-1] == len(passed)
        assert 0.9 * len(lines) < capture.truth.duration_s  # at most one line a second
        # ticks against true passages: rounded down, twice, hence within one tick
        elapsed = np.array([(m.tick - start) % 65_536 for m in lines]) / 1024.0
        error = (elapsed - passed[done - 1] + 32.0) % 64.0 - 32.0
        assert np.max(np.abs(error)) <= 1.0 / 1024.0
    assert all(b.tick != a.tick or b.channel != a.channel for a, b in pairwise(rows))


def test_one_keep_alive_a_second():
    rows = [m for m in Decoder().feed(simulate(scenario("steady"), 2).log) if isinstance(m, Pulse)]
    ticks = [m.tick for m in rows if m.channel == "k"]
    assert set(np.diff(ticks).tolist()) == {1_000_000}
    assert len(ticks) == 90
