"""Missed and doubled pulses put in by hand into a known motion, and what is made of them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from whorlpulse.conditioning.both_shafts import count_both
from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.repair import EVEN_SD, TREADLED_SD, find_repairs, odd_places, stories
from whorlpulse.conditioning.running_median import running_median_9
from whorlpulse.pulses import Flag


def treadled(n=200, ripple=0.12, per_turn=8.4):
    count = np.arange(n)
    return 0.12 * (count + ripple * per_turn / (2 * np.pi) * np.sin(2 * np.pi * count / per_turn))


def mended(t, sd=TREADLED_SD):
    repairs = find_repairs(t, running_median_9(np.diff(t)), sd)
    return Counted.repaired(t, repairs, np.array([x for r in repairs for x in r.filled]))


@pytest.mark.parametrize("gone", [[50], [50, 53], [30, 90, 150]])
def test_a_missed_pulse_of_an_even_shaft_is_put_back_where_it_was(gone):
    true = treadled(ripple=0.0)
    counted, flag = mended(np.delete(true, gone))
    assert not flag.any()
    np.testing.assert_array_equal(np.flatnonzero(counted.filled), gone)
    np.testing.assert_allclose(counted.t_s, true, atol=1e-9)


@pytest.mark.parametrize("ripple", [0.0, 0.1, 0.15])
@pytest.mark.parametrize("gone", [[50], [50, 51], [50, 53], [50, 51, 52], [30, 90, 150], [60, 61, 120, 150, 152]])
def test_with_the_wheel_beside_it_a_treadled_flyer_is_mended_too(ripple, gone):
    true = treadled(ripple=ripple)
    wheel = np.interp(np.arange(3.3, 196.0, 8.4), np.arange(200), true)
    found = count_both(np.delete(true, gone), wheel, 1)
    assert not found.flyer_flag.any()
    assert not found.wheel_flag.any()
    assert not found.wheel.filled.any()
    np.testing.assert_array_equal(np.flatnonzero(found.flyer.filled), gone)
    # filled evenly: what a foot bends within the hole, at most a third of an interval
    np.testing.assert_allclose(found.flyer.t_s, true, atol=0.33 * 0.12)


@pytest.mark.parametrize("ripple", [0.0, 0.1, 0.15])
@pytest.mark.parametrize("part", [0.27, 0.35, 0.5, 0.65])
def test_a_doubled_pulse_is_taken_away(ripple, part):
    true = treadled(ripple=ripple)
    at = 80
    added = true[at] + part * (true[at + 1] - true[at])
    counted, flag = mended(np.insert(true, at + 1, added))
    np.testing.assert_array_equal(np.flatnonzero(flag == Flag.EXTRA), [at + 1])
    np.testing.assert_array_equal(counted.t_s, true)


def test_a_clean_motion_is_left_alone():
    for ripple in (0.0, 0.1, 0.2):
        assert find_repairs(treadled(ripple=ripple), running_median_9(np.diff(treadled(ripple=ripple)))) == []


@settings(max_examples=60, deadline=None)
@given(depth=st.floats(0.1, 0.6), lasts=st.integers(3, 9), at=st.integers(40, 120), data=st.data())
def test_a_shaft_that_slows_gently_has_missed_nothing(depth, lasts, at, data):
    # a slip: over `lasts` pulses the intervals swell to 1 + depth times and shrink again, in steps below a factor 1.5;
    # what slows to less than that for longer could as well be missed pulses, and only the wheel can tell
    sd = data.draw(st.sampled_from([TREADLED_SD, EVEN_SD]))
    swell = 1 + depth * np.sin(np.pi * np.arange(1, lasts + 1) / (lasts + 1)) ** 2
    gaps = np.full(200, 0.12)
    gaps[at : at + lasts] *= swell
    if (np.abs(np.diff(np.log(gaps))) < np.log(1.5)).all():
        t = np.cumsum(gaps)
        assert sum(r.net for r in find_repairs(t, running_median_9(np.diff(t)), sd, most_misfit=5.0)) == 0


def test_a_hole_of_more_than_eight_is_not_filled():
    true = treadled(ripple=0.0)
    counted, _ = mended(np.delete(true, range(60, 72)))
    assert not counted.filled.any()


def test_odd_places_lie_between_pulses_that_fit():
    t = np.arange(60) * 1.0
    t[30:] += 1.0  # one missed between 29 and 30
    usual = np.ones(58)
    assert odd_places(t, np.ones(59), 1.42, 0.62) == [(28, 31)]
    assert odd_places(t[:3], usual[:2], 1.42, 0.62) == []
    # at the very end only on demand
    late = np.arange(60) * 1.0
    late[-1] += 1.0
    assert odd_places(late, np.ones(59), 1.42, 0.62) == []
    assert odd_places(late, np.ones(59), 1.42, 0.62, ends=True) == [(57, 59)]


def test_the_story_asked_for_is_told_though_unlikely():
    t = np.arange(40) * 1.0
    told = stories(t, np.ones(39), 10, 14, TREADLED_SD, wanted=[-2, 3])
    assert {-2, 3} <= set(told)
    assert told[0].cost < min(story.cost for net, story in told.items() if net)
    for net, story in told.items():
        assert story.repair.net == net == len(story.repair.filled) - len(story.repair.extra)
        assert all(10 < i < 14 for i in story.repair.extra)
        assert all(t[10] < x < t[14] for x in story.repair.filled)


def test_applying_repairs_conserves_pulses():
    t = np.arange(10) * 1.0
    plain, flag = Counted.repaired(t, [], np.empty(0))
    assert len(plain) == 10
    assert not flag.any()
    told = stories(np.delete(t, 5), np.ones(8), 3, 6, TREADLED_SD)
    counted, flag = Counted.repaired(np.delete(t, 5), [told[1].repair], np.array(told[1].repair.filled))
    assert len(counted) == 9 + 1
    np.testing.assert_array_equal(counted.passage, np.arange(10))
    np.testing.assert_allclose(counted.t_s, t)
