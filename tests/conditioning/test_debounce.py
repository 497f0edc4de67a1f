"""Bounce: what comes too soon after a pulse that counts, and nothing else."""

import numpy as np
import pytest

from whorlpulse.conditioning.debounce import REFRACTORY_PART, bounced, bounced_in_draws


@pytest.mark.parametrize("share", [0.02, 0.05, 0.2, 0.35])
@pytest.mark.parametrize("interval_s", [0.02, 0.12, 1.0])
def test_every_bounce_and_only_bounces_are_flagged(share, interval_s):
    rng = np.random.default_rng(int(share * 100))
    real = np.cumsum(interval_s * rng.uniform(0.8, 1.25, 800))  # a foot's ripple
    mine = rng.random(800) < share
    mine[:2] = False
    again = real[mine] + rng.uniform(0.01, 0.2, mine.sum()) * interval_s * 0.8
    t = np.concatenate((real, again))
    order = np.argsort(t)
    truth = np.concatenate((np.zeros(800, bool), np.ones(len(again), bool)))[order]
    np.testing.assert_array_equal(bounced(t[order]), truth)


def test_a_burst_of_bounces_is_measured_from_the_pulse_that_counts():
    t = np.arange(30) * 0.1
    chatter = t[10] + np.array([0.004, 0.009, 0.015, 0.022])
    found = bounced(np.sort(np.concatenate((t, chatter))))
    np.testing.assert_array_equal(np.flatnonzero(found), [11, 12, 13, 14])


def test_a_shaft_that_speeds_up_twentyfold_loses_nothing():
    t = np.cumsum(np.geomspace(1.0, 0.05, 120))
    assert not bounced(t).any()
    assert not bounced(t[-1] - t[::-1]).any()


def test_uneven_targets_are_not_bounce():
    # 30 % of the mean spacing is above the refractory part
    assert REFRACTORY_PART < 0.3
    t = np.cumsum(np.tile([0.03, 0.17], 60))
    assert not bounced(t).any()


@pytest.mark.parametrize("t", [[], [1.0], [1.0, 1.0], [1.0, 2.0]])
def test_few_pulses(t):
    np.testing.assert_array_equal(bounced(np.array(t)), [i > 0 and t[i] == t[i - 1] for i in range(len(t))])
    np.testing.assert_array_equal(bounced_in_draws(np.array(t)), [i > 0 and t[i] == t[i - 1] for i in range(len(t))])


def test_pulses_at_one_tick_are_one_pulse():
    t = np.repeat(np.arange(20) * 0.1, 2)
    np.testing.assert_array_equal(bounced(t), np.arange(40) % 2 == 1)


def test_a_roller_between_draws_keeps_its_pulses_and_loses_its_bounce():
    # 12 draws of 20 quick pulses, 4 s apart; a bounce 3 ms after every tenth pulse
    draw = np.cumsum(np.full(20, 0.045))
    real = np.concatenate([4.0 * k + draw for k in range(12)])
    again = real[5::10] + 0.003
    t = np.concatenate((real, again))
    order = np.argsort(t)
    truth = (np.arange(len(t)) >= len(real))[order]
    np.testing.assert_array_equal(bounced_in_draws(t[order]), truth)
