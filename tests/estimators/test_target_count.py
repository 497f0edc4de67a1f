"""How many targets a shaft has, from series whose truth is put in by hand."""

import numpy as np
import pytest

from whorlpulse.estimators.target_count import repeating_gaps, repeating_times, treadle_rhythm


@pytest.mark.parametrize("targets", [2, 3, 4, 5, 7])
def test_gaps_repeat_after_one_turn(targets):
    rng = np.random.default_rng(targets)
    pattern = 1.0 + 0.2 * np.sin(np.arange(targets) ** 2 + 0.4)
    gap = np.tile(pattern, 40) + 0.01 * rng.standard_normal(40 * targets)
    assert repeating_gaps(gap) == targets


def test_even_or_random_gaps_repeat_nothing():
    rng = np.random.default_rng(1)
    assert repeating_gaps(np.full(200, 2.1)) is None
    assert repeating_gaps(2.1 + 0.3 * rng.standard_normal(200)) is None
    assert repeating_gaps(np.array([])) is None


def test_three_faults_in_a_hundred_do_not_hide_the_pattern():
    rng = np.random.default_rng(2)
    gap = np.tile([0.8, 1.1, 0.9, 1.2], 60)
    at = np.sort(rng.choice(230, 6, replace=False))[::-1]
    for i in at.tolist():  # a missed target joins two gaps
        gap = np.concatenate((gap[:i], [gap[i] + gap[i + 1]], gap[i + 2 :]))
    assert repeating_gaps(gap) == 4


def spun(ratio, ripple, pushes, turns=80):
    """Times of flyer pulses and of the wheel's turns (one target each) at a speed that ripples with the wheel."""
    phase = np.linspace(0.0, turns, turns * 400)
    speed = 1.0 + ripple * np.cos(2.0 * np.pi * pushes * phase)
    t_s = np.concatenate(([0.0], np.cumsum(np.diff(phase) * 2.0 / (speed[1:] + speed[:-1]))))

    def passages(n):
        return np.interp(np.arange(int(turns * n)) / n, phase, t_s)

    return passages(ratio), passages


def test_the_rhythm_of_the_feet_numbers_even_targets():
    for targets in (1, 2, 4, 6):
        flyer, passages = spun(8.37, 0.1, 1)
        rhythm = treadle_rhythm(flyer, passages(targets))
        assert rhythm.pulses_a_push == targets
        assert rhythm.fits(targets)
        assert not rhythm.fits(3 * targets)


def test_two_treadles_fit_the_wheel_and_half_of_it():
    flyer, passages = spun(8.37, 0.1, 2)
    rhythm = treadle_rhythm(flyer, passages(4))
    assert rhythm.fits(4)
    assert rhythm.fits(2)
    assert not rhythm.fits(1)


def test_a_steady_wheel_has_no_rhythm_and_fits_any_number():
    flyer, passages = spun(8.37, 0.0, 1)
    rhythm = treadle_rhythm(flyer, passages(1))
    assert rhythm.pulses_a_push is None
    assert rhythm.fits(4)


def test_uneven_flyer_targets_are_told_from_the_feet():
    flyer, _ = spun(8.37, 0.1, 1)
    lines = [h / 8.37 for h in range(1, 9)]
    assert repeating_times(flyer, lines) is None
    uneven = np.sort(np.concatenate((flyer, flyer + 0.49 * np.gradient(flyer))))
    assert repeating_times(uneven, [line / 2 for line in lines]) == 2
