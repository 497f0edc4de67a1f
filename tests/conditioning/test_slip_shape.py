"""Slips made by a known law and missed pulses, side by side: which is taken for which."""

import numpy as np
import pytest
from tests.accuracy.burst_logs import overlapping, quick_bursts
from tests.accuracy.trial import trial
from tests.conditioning.test_counting import FOUR, miscount
from tests.estimators.test_slip_bursts import slip_of

from whorlpulse.conditioning.repair import EVEN_SD, MOST_MISFIT, find_repairs
from whorlpulse.conditioning.running_median import running_median_9
from whorlpulse.conditioning.slip_mending import smoothest
from whorlpulse.conditioning.slip_shape import SlipShape, learn_slip_shape
from whorlpulse.simulate import Sensor

SPEED, AT_S = 8.0, 12.3  # turns a second, and when the slip begins


def turning(lost, lasts_s, jitter=0.01, seed=0):
    """Times of 200 turns at SPEED of which `lost` are lost from AT_S on: by u²(3 − 2u), u the part of its time.

    The law is that of a force that sets in and lets go; jitter is a part of an interval.
    """
    t = np.linspace(0.0, 40.0, 400_001)
    u = np.clip((t - AT_S) / lasts_s, 0.0, 1.0)
    turns = SPEED * t - lost * u * u * (3.0 - 2.0 * u)
    times = np.interp(np.arange(200), turns, t)
    return times + jitter / SPEED * np.random.default_rng(seed).standard_normal(200)


def mended(times):
    usual = running_median_9(np.diff(times))
    return find_repairs(times, usual, EVEN_SD, MOST_MISFIT, learn_slip_shape(times, usual))


@pytest.mark.parametrize("lost", [0.8, 1.0, 1.3, 1.6, 2.0])
@pytest.mark.parametrize("lasts_s", [0.45, 0.55, 0.7])
def test_a_quick_slip_is_not_filled(lost, lasts_s):
    for seed in range(5):
        assert sum(r.net for r in mended(turning(lost, lasts_s, seed=seed))) == 0


@pytest.mark.parametrize("gone", [[90], [90, 91], [60, 90, 120, 121]])
def test_missed_pulses_are_filled_beside_it(gone):
    for seed in range(5):
        times = turning(1.6, 0.5, seed=seed)
        repairs = mended(np.delete(times, gone[0] if len(gone) == 1 else gone))
        assert sum(r.net for r in repairs) == len(gone)


def test_a_pulse_missed_in_the_midst_of_a_slip_is_put_in():
    """A turn lost in nearly a second, and one of the pulses in it not reported, in a log that misses a few."""
    others = [10, 25, 40, 55, 70, 130, 150, 170, 190]
    right = 0
    for seed in range(5):
        times = turning(1.0, 0.9, seed=seed)
        for gone in range(99, 106):
            repairs = mended(np.delete(times, [*others, gone]))
            right += sum(r.net for r in repairs) == len(others) + 1
        assert sum(r.net for r in mended(np.delete(times, others))) == len(others)
    assert right >= 30  # of 35; the rest are left for the wheel to judge


def test_the_smoothest_reading_keeps_what_is_smooth():
    reported = np.cumsum([0.0, 1.0, 1.0, 1.2, 1.4, 1.3, 1.1, 1.0, 1.0])
    sound = smoothest(reported.tolist(), 1.0, 7.0, 8.0)
    assert (sound.edits, [i for _, i in sound.passages]) == (0, list(range(9)))
    without = smoothest(np.delete(reported, 4).tolist(), 1.0, 7.0, 8.0)
    (put_in,) = [at for at, i in without.passages if i is None]
    assert put_in == pytest.approx(reported[4], abs=0.15)
    twice = smoothest(np.insert(reported, 5, reported[4] + 0.5).tolist(), 1.0, 7.0, 8.0)
    assert [i for _, i in twice.passages] == [0, 1, 2, 3, 4, 6, 7, 8, 9]
    assert smoothest([0.0, 1.0, 3.0], 1.0, 7.0, 8.0).edits == 0


def test_a_sudden_change_of_pace_with_a_missed_pulse_is_no_slip():
    """A wheel that speeds up by an eighth: the doubled interval lies between a longer and a shorter usual one."""
    gaps = np.concatenate((np.full(100, 1.0), np.full(100, 0.88))) * (
        1.0 + 0.01 * np.random.default_rng(3).standard_normal(200)
    )
    times = np.cumsum(gaps)
    for gone in (97, 98, 99, 100, 101):
        assert sum(r.net for r in mended(np.delete(times, gone))) == 1


def test_where_feet_hide_the_shape_nothing_is_told():
    times = turning(0.0, 1.0, jitter=0.08)
    assert learn_slip_shape(times, running_median_9(np.diff(times))) is None
    assert learn_slip_shape(np.arange(1.0), np.empty(0)) is None


def test_a_log_that_misses_more_asks_for_more_evidence():
    sound = turning(0.0, 1.0)
    bad = np.delete(sound, np.arange(10, 190, 12))
    found = [learn_slip_shape(t, running_median_9(np.diff(t))) for t in (sound, bad)]
    assert all(isinstance(f, SlipShape) for f in found)
    assert [f.misses for f in found] == [False, True]
    assert found[0].enough < 12.0 < 17.0 < found[1].enough


@pytest.mark.parametrize("targets", [(0.0,), FOUR], ids=["one wheel target", "four"])
def test_quick_bursts_of_simulated_wheels_are_found_and_the_count_is_theirs(targets):
    """Bursts of 0.5 to 2.2 turns within 0.25 to 0.75 s, one flyer target; the whole chain against the truth."""
    there = seen = sized = off = 0
    for seed in range(6):
        made = trial(quick_bursts(seed, (Sensor("w", targets), Sensor("f"))), seed)
        found = slip_of(made)
        off += abs(miscount(made, "f"))
        for true in made.truth.bursts:
            near = [found.bursts[i] for i in overlapping(found, true)]
            there += 1
            seen += bool(near)
            sized += any(abs(b.lost / true.lost_turns - 1.0) <= 0.1 for b in near)
    # measured over 20 logs each: 346 of 348 found and sized, 3 turns miscounted; before shapes were looked at 235, 87
    assert there > 90
    assert min(seen, sized) >= 0.95 * there
    assert off <= 3
