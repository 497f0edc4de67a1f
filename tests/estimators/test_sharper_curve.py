"""The quintic between few flyer pulses: scipy's spline, and the simulator's true angles."""

import numpy as np
import pytest
from scipy.interpolate import make_interp_spline
from tests.accuracy.grid_cells import CELLS
from tests.accuracy.trial import trial

from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.estimators.sharper_curve import _by_quintic, sharpened
from whorlpulse.estimators.wheel_steps import pieces_at_speed


def flyer(n=200, ripple=0.02, noise_s=0.0, seed=3):
    """Pulses at even angles of a shaft whose speed swings 37 times in 100 pulses; wheel passages 5.4 pulses apart."""
    rng = np.random.default_rng(seed)
    x = np.arange(float(n))
    t_s = 0.11 * (x + ripple * np.sin(2 * np.pi * 0.37 * x + 0.4)) + noise_s * rng.standard_normal(n)
    turned = np.arange(0.3, n - 1, 5.4)
    at = 0.11 * (turned + ripple * np.sin(2 * np.pi * 0.37 * turned + 0.4))
    return Counted(t_s, np.arange(5, n + 5), np.zeros(n, bool)), at, turned


def cubic(counted, at):
    return monotone_cubic(counted.t_s, (counted.passage - counted.passage[0]).astype(float), at)


def test_away_from_the_ends_it_is_scipys_quintic_spline():
    counted, at, turned = flyer()
    y = sharpened(counted, at, cubic(counted, at), 1)
    spline = make_interp_spline(np.arange(200.0), counted.t_s, k=5)
    inside = (at > counted.t_s[30]) & (at < counted.t_s[-30])
    # what is beyond 12 pulses weighs 0.43¹² = 4e-5 of a ripple of 0.02 pulses; a Newton step leaves its square
    np.testing.assert_allclose(spline(y[inside]), at[inside], atol=0.11 * 2e-5)
    off, before = (np.sqrt(np.mean((z - turned)[inside] ** 2)) for z in (y, cubic(counted, at)))
    assert off < 0.7 * before


def test_ends_and_shafts_of_many_pulses_keep_the_cubic():
    counted, at, _ = flyer()
    y = cubic(counted, at)
    few = Counted(counted.t_s[:20], counted.passage[:20], counted.filled[:20])
    np.testing.assert_array_equal(sharpened(few, at[:3], y[:3], 1), y[:3])
    after = sharpened(counted, at, y, 1)
    ends = (at < counted.t_s[12]) | (at >= counted.t_s[-13])
    assert ends.sum() > 3
    np.testing.assert_array_equal(after[ends], y[ends])
    assert (after[~ends] != y[~ends]).mean() > 0.99
    every_other = slice(None, None, 2)  # 10.8 pulses from one passage to the next
    np.testing.assert_array_equal(sharpened(counted, at[every_other], y[every_other], 1), y[every_other])


def test_beside_a_pulse_that_was_put_in_the_cubic_stays():
    counted, at, _ = flyer()
    filled = counted.filled.copy()
    filled[100] = True
    put_in = Counted(counted.t_s, counted.passage, filled)
    y = cubic(counted, at)
    after = sharpened(put_in, at, y, 1)
    near = (at >= counted.t_s[88]) & (at < counted.t_s[112])
    assert near.sum() > 3
    np.testing.assert_array_equal(after[near], y[near])
    far = (at >= counted.t_s[13]) & (at < counted.t_s[87])
    np.testing.assert_array_equal(after[far], sharpened(counted, at, y, 1)[far])


def test_a_jump_is_no_ripple():
    """Where the quintic would throw a passage out of its gap the cubic's angle stays."""
    counted, _, _ = flyer(ripple=0.0)
    t_s = counted.t_s.copy()
    t_s[100:] += 0.5  # the flyer stood for five pulses' time
    stood = Counted(t_s, counted.passage, counted.filled)
    at = np.linspace(t_s[95], t_s[105], 60)
    y = cubic(stood, at)
    after = _by_quintic(stood, at, y)
    assert np.abs(after - y).max() < 0.1
    before = np.searchsorted(t_s, at, side="right") - 1
    assert ((after >= before) & (after <= before + 1)).all()


def test_noise_alone_keeps_the_cubic_which_lets_less_of_it_through():
    counted, at, turned = flyer(n=4000, ripple=0.0, noise_s=1e-4)
    y = cubic(counted, at)
    np.testing.assert_array_equal(sharpened(counted, at, y, 1), y)
    inside = slice(10, -10)
    over = np.var((_by_quintic(counted, at, y) - turned)[inside]) / np.var((y - turned)[inside])
    assert 1.0 < over < 1.08


@pytest.mark.parametrize(
    ("key", "of_cubic"),
    [
        # 5.4 pulses a turn: the curve's error is what is left, not the sensor's (measured 0.82 and 0.72 of the cubic's)
        ("treadled: 1 wheel, 20 µs, ratio 5.4", 0.9),
        ("treadled: 4 wheel, 20 µs, ratio 5.4", 0.85),
        ("jitter: 0 µs", 0.5),
    ],
)
def test_treadled_wheels_passages_are_nearer_to_the_truth(key, of_cubic, monkeypatch):
    errors = {True: [], False: []}
    for number in range(12):
        found = trial(CELLS[key].scenario(number), CELLS[key].seed(number))
        passed = found.truth.passages_s("w")
        for sharp in errors:
            with monkeypatch.context() as patch:
                if not sharp:
                    patch.setattr("whorlpulse.estimators.wheel_steps.sharpened", lambda _flyer, _t_s, y, _targets: y)
                pieces = pieces_at_speed(found.conditioned, CELLS[key].wheel)
            for p in pieces:
                true = found.truth.flyer_turns_at(passed[np.abs(passed[:, None] - p.t_s).argmin(axis=0)])
                errors[sharp].append(p.y - true - np.mean(p.y - true))
    rms = {sharp: np.sqrt(np.mean(np.concatenate(e) ** 2)) for sharp, e in errors.items()}
    assert rms[True] < of_cubic * rms[False]
    assert rms[True] > 0.05 * rms[False]
