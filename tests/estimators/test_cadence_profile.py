"""The speed within a turn against the simulated wheel's own angle, and against closed forms."""

from dataclasses import replace

import numpy as np
import pytest
from tests.accuracy.trial import trial
from tests.estimators.cadence_logs import conditioned, log_of

from whorlpulse.estimators.laps import treadled_parts
from whorlpulse.estimators.speed_shape import Shape, speed_at, swing, valleys
from whorlpulse.estimators.turn_profile import turn_profile
from whorlpulse.simulate import Band, Foot, Sensor, Treadling, scenario

STEADY = scenario("steady")
GRID = np.arange(241) / 240


def shape(a, b):
    return Shape(np.array(a, float), np.array(b, float), np.zeros((2 * len(a),) * 2), 50)


def profile_of(case):
    return turn_profile(case.conditioned, treadled_parts(case.conditioned))


def true_speed(case):
    """Speed by angle from the simulated wheel alone: time gone by angle, averaged over the laps, differentiated."""
    gone = []
    for part in treadled_parts(case.conditioned):
        for start, end in zip(part.t_s[:: part.targets][:-1], part.t_s[:: part.targets][1:], strict=True):
            t = np.linspace(start, end, 481)
            turns = case.truth.wheel_turns_at(t)
            gone.append(np.interp(GRID, (turns - turns[0]) / (turns[-1] - turns[0]), np.linspace(0, 1, 481)))
    deviation = (np.mean(gone, axis=0) - GRID)[:-1]
    orders = np.arange(121)
    wave = np.fft.rfft(deviation)
    wave[20:] = 0.0  # the time steps of 1/480 turn
    return 1.0 / (1.0 + np.fft.irfft(2j * np.pi * orders * wave, 240))


def compared(case):
    found, true = profile_of(case), true_speed(case)
    speed = np.array([p.speed.value for p in found.points])
    half = np.array([p.speed.half_width for p in found.points])
    assert len(found.points) == 24
    return found, true, speed, half


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_smooth_wheel_is_followed_to_a_thousandth(seed):
    found, true, speed, half = compared(trial(replace(STEADY, motion="kinematic"), seed))
    np.testing.assert_allclose(speed, true[::10], atol=1e-3)
    assert found.swing.value == pytest.approx(np.ptp(true), abs=2e-3)
    assert abs((found.slow[0] - true.argmin() / 240 + 0.5) % 1.0 - 0.5) < 0.02
    assert (np.abs(speed - true[::10]) <= half).all()


def test_foot_inertia_and_creep_lie_within_the_intervals():
    """Bar: at 95 % intervals, at least 90 of 100 angles; the profile is off by 1 % of the speed at most."""
    inside = []
    for seed in range(8):
        foot = Foot(treadles=1 + seed % 2, turn_scatter=0.15)
        found, true, speed, half = compared(trial(replace(STEADY, foot=foot), seed))
        np.testing.assert_allclose(speed, true[::10], atol=0.01)
        assert found.swing.low <= np.ptp(true) <= found.swing.high
        inside.extend(np.abs(speed - true[::10]) <= half)
    assert np.mean(inside) >= 0.9


@pytest.mark.parametrize(
    ("wheel", "flyer"), [((0.0,), (0.0, 0.53)), ((0.0, 0.27, 0.5, 0.71), (0.0,)), ((0.0, 0.4), (0.0, 0.3, 0.62))]
)
def test_uneven_targets_do_not_show_as_treadling(wheel, flyer):
    sensors = (Sensor("w", wheel), Sensor("f", flyer))
    even = replace(STEADY, motion="kinematic", foot=Foot(ripple=0.0), sensors=sensors)
    found, _, speed, _ = compared(trial(even, 4))
    # a target 3 % of a turn out of place would be a speed wrong by several per cent somewhere
    np.testing.assert_allclose(speed, 1.0, atol=4e-3)
    assert not found.sure
    treadled = replace(even, foot=Foot())
    found, true, speed, _ = compared(trial(treadled, 4))
    np.testing.assert_allclose(speed, true[::10], atol=4e-3)
    assert found.sure


def test_two_treadles_have_two_slow_places():
    case = trial(replace(STEADY, foot=Foot(treadles=2, imbalance=0.05)), 5)
    found, true, _, _ = compared(case)
    lows = np.flatnonzero((true < np.roll(true, 1)) & (true < np.roll(true, -1))) / 240
    assert len(found.slow) == 2
    assert all(np.abs((lows - s + 0.5) % 1.0 - 0.5).min() < 0.03 for s in found.slow)
    assert found.by_order[1] > 1.5 * found.by_order[0]
    single = profile_of(trial(STEADY, 5))
    assert len(single.slow) == 1
    assert single.by_order[0] > 1.5 * single.by_order[1]


@pytest.mark.parametrize("ratio", [4.03, 5.0, 6.19, 12.0])
def test_low_and_whole_ratios_tell_fewer_orders_but_no_wrong_ones(ratio):
    # A ratio without slip, so that a whole one stays whole.
    case = replace(STEADY, motion="kinematic", band=Band(), phases=(Treadling(90.0, 60.0, ratio=ratio),))
    found, true, speed, _ = compared(trial(case, 6))
    # the ripple's second order is 15 % of 10 %; where it can't be told it is missing from the profile
    np.testing.assert_allclose(speed, true[::10], atol=0.004 if found.orders >= 3 else 0.02)


def test_a_stall_is_not_the_usual_turn():
    plain = conditioned(log_of(lambda t: t + 0.02 * np.sin(2 * np.pi * t) / (2 * np.pi), 60.0))
    stalled = conditioned(
        log_of(lambda t: (x := t - 0.75 * np.clip(t - 20.3, 0, 1.2)) + 0.02 * np.sin(2 * np.pi * x) / (2 * np.pi), 60.0)
    )
    one, other = (turn_profile(log, treadled_parts(log)) for log in (plain, stalled))
    np.testing.assert_allclose([p.speed.value for p in other.points], [p.speed.value for p in one.points], atol=1e-3)
    # the stall's own turn, and neighbours whose ends the sudden change makes unsure
    assert one.laps - 5 <= other.laps <= one.laps - 1


def test_refusals_say_which():
    assert profile_of(trial(replace(STEADY, sensors=(Sensor("w"),)), 1)) == "no-flyer"
    short = conditioned(log_of(lambda t: t, 11.0))
    assert turn_profile(short, treadled_parts(short)) == "few-laps"
    once = conditioned(log_of(lambda t: t, 60.0, ratio=1.0))
    assert turn_profile(once, treadled_parts(once)) == "same-angles"


def test_one_wave_is_its_closed_form():
    # D = b sin 2 pi theta: speed = 1 / (1 + 2 pi b cos 2 pi theta)
    x = 0.1
    one = shape([0.0], [x / (2 * np.pi)])
    theta = np.array([0.0, 0.25, 0.5])
    np.testing.assert_allclose(speed_at(one, theta)[0], [1 / (1 + x), 1.0, 1 / (1 - x)], rtol=1e-12)
    slow, fast, height = swing(one)
    assert (slow, fast) == (0.0, 0.5)
    assert height.value == pytest.approx(2 * x / (1 - x**2))
    # the mean of speed over time is 1: a turn takes its turn's time
    fine = np.arange(1000) / 1000
    assert np.mean(1 / speed_at(one, fine)[0]) == pytest.approx(1.0)


def test_valleys_are_those_between_which_the_speed_rises():
    # 1 + c cos 4 pi theta in slowness: slow at 0 and 0.5; a little of the first order makes one the deeper
    two = shape([0.0, 0.0], [0.002, 0.01])
    assert valleys(two, 0.05) == pytest.approx([0.0, 0.5], abs=0.01)
    assert valleys(two, 0.5) == pytest.approx([0.0], abs=0.01)
