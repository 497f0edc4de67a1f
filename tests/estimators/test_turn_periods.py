"""Cadence and steadiness: by hand, and against simulated periods whose law is known."""

import numpy as np
import pytest

from whorlpulse.estimators.turn_periods import summary, turn_periods
from whorlpulse.estimators.wheel_steps import Piece


def piece(t_s, passage) -> Piece:
    return Piece(0, np.asarray(t_s, float), np.zeros(len(t_s)), np.asarray(passage, np.int64))


def test_periods_by_hand():
    found = summary(np.array([0.9, 1.1] * 10))
    assert found.turns == 20
    assert found.seconds == pytest.approx(20.0)
    assert found.cadence_hz.value == pytest.approx(1.0)
    # deviations of 0.1 about a mean of 1: s² = 20·0.01/19
    assert found.variation.value == pytest.approx((20 * 0.01 / 19) ** 0.5)


def test_uneven_targets_do_not_show_and_filled_ones_leave_their_turn_out():
    angles = np.array([0.0, 0.30, 0.48, 0.77])
    passage = np.arange(12)
    t = passage // 4 + angles[passage % 4]  # a turn a second
    assert turn_periods([piece(t, passage)], 4) == pytest.approx([1.0, 1.0])
    kept = passage != 4  # the one passage between the two turns was filled in
    assert len(turn_periods([piece(t[kept], passage[kept])], 4)) == 0


def test_too_few_turns_say_nothing():
    assert summary(np.full(7, 1.0)) is None


@pytest.mark.parametrize("memory", [0.0, 0.8])
def test_intervals_hold_for_periods_that_resemble_their_neighbours(memory):
    """AR(1) periods of CV 5 %; the mean period is known, the CV from the law."""
    rng = np.random.default_rng(8)
    runs, n = 600, 400
    held_mean = held_cv = 0
    for _ in range(runs):
        x = np.empty(n)
        x[0] = rng.standard_normal()
        for i in range(1, n):
            x[i] = memory * x[i - 1] + (1 - memory**2) ** 0.5 * rng.standard_normal()
        found = summary(1.0 + 0.05 * x)
        held_mean += found.cadence_hz.low <= 1.0 <= found.cadence_hz.high
        held_cv += found.variation.low <= 0.05 <= found.variation.high
    assert 0.92 < held_mean / runs < 0.99
    # the spread's own law is skew and short of slow waves: its interval may hold a little less often
    assert 0.90 < held_cv / runs < 0.99
