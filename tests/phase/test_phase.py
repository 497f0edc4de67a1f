"""Turns against time: whole and part, over stops and lost lines."""

import numpy as np
import pytest
from tests.accuracy.trial import trial

from whorlpulse.conditioning import condition
from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.targets import Angles
from whorlpulse.phase import Turns, flyer_count, shaft_turns, turns_at, wheel_passages_in_flyer_turns
from whorlpulse.pulses import FLYER, Rows
from whorlpulse.rig import Rig
from whorlpulse.simulate import scenario

TWO = Angles(np.array([0.0, 0.45]), np.zeros(2), True)


def test_a_week_of_spinning_loses_no_digit():
    far = 6_000_000_000  # turns; a float of this size holds only 1e-6
    turns = Turns(np.array([far, far + 1]), np.array([0.123456789012, 0.123456789112]))
    assert turns.since(0)[1] == pytest.approx(1 + 1e-10, abs=1e-15)


def test_targets_give_their_angles():
    counted = Counted.one_each(np.arange(5.0))
    made = shaft_turns(counted, TWO)
    np.testing.assert_allclose(made.whole + made.part, [0, 0.45, 1, 1.45, 2])
    np.testing.assert_allclose(turns_at(counted, TWO, counted.t_s), [0, 0.45, 1, 1.45, 2])
    assert np.isnan(turns_at(counted, TWO, np.array([-0.1, 4.1]))).all()
    assert np.isnan(turns_at(Counted.one_each(np.ones(1)), TWO, np.array([1.0]))).all()


def log_of(t_s, gap_row=(), targets=1):
    rows = Rows(
        np.floor(np.asarray(t_s) * 1e6).astype(np.int64),
        np.full(len(t_s), FLYER, np.uint8),
        gap_row=np.array(gap_row, np.int64),
        gap_lines=np.ones(len(gap_row), np.int64),
    )
    return condition(rows, Rig(targets={"w": 1, "f": targets, "b": 1, "y": 1}))


def test_over_a_stop_the_flyer_keeps_its_angle():
    t = np.concatenate((np.arange(0, 20, 0.12), np.arange(31, 50, 0.12)))
    count = flyer_count(log_of(t))
    assert (np.diff(count.block) == 0).all()
    np.testing.assert_allclose(count.knot_turns, np.arange(len(t)))
    assert count.turns_at(np.array([25.0]))[0] == pytest.approx(len(np.arange(0, 20, 0.12)) - 0.5, abs=0.1)


def test_over_lost_lines_nothing_is_counted():
    t = np.arange(0, 40, 0.12)
    count = flyer_count(log_of(t, gap_row=[150]))
    np.testing.assert_array_equal(np.unique(count.block), [0, 1])
    np.testing.assert_array_equal(count.block_at(t[[10, 149, 150, 300]]), [0, 0, 1, 1])
    assert count.block_at(np.array([(t[149] + t[150]) / 2]))[0] == 0


def test_beyond_the_ends_half_a_gap_is_likeliest():
    count = flyer_count(log_of(np.arange(0, 20, 0.12)))
    assert count.target_turns == 1.0
    np.testing.assert_allclose(count.turns_at(np.array([-5.0, 99.0])), [-0.5, count.knot_turns[-1] + 0.5])
    assert flyer_count(log_of(np.array([1.0]))) is None
    assert flyer_count(condition(Rows.empty(), Rig())) is None


def test_the_curve_between_passages_is_the_shafts_own():
    """Against the simulator's truth: the flyer's angle at the wheel's passages, on real treadling."""
    worst = []
    for seed in range(8):
        found = trial(scenario("steady"), seed)
        log, truth = found.conditioned, found.truth
        ((t, y, passage),) = wheel_passages_in_flyer_turns(log, log.stretches)
        true = truth.flyer_turns_at(t)
        off = (y - y[5]) - (true - true[5])
        worst.append(np.abs(off[3:-3]).max())
        assert (np.diff(passage) == 1).all()
    # At speed the curve is off by less than stamps of 100 µs would make it at 8.4 turns/s
    assert np.median(worst) < 8.4 * 1e-4
    assert max(worst) < 2e-3


def test_no_passage_is_read_beyond_the_flyers_own_pulses():
    """A wheel pulse before the first or after the last flyer pulse must not be guessed."""
    found = trial(scenario("steady"), 1)
    log = found.conditioned
    ((t, y, _),) = wheel_passages_in_flyer_turns(log, log.stretches)
    flyer = log.stretches[0].flyer.t_s
    assert t[0] >= flyer[0]
    assert t[-1] <= flyer[-1]
    assert np.isfinite(y).all()
