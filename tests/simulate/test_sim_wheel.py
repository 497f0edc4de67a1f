"""The mechanics against closed forms: steady creep, run-down, energy, sliding, ripple from a foot's push.

The closed forms are elementary mechanics (constant, viscous torque; work and kinetic energy), derived beside
each check. Tolerances are the integrator's: steps of 1 to 5 ms.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from whorlpulse.simulate import Band, DriveWheel, Flyer, Foot
from whorlpulse.simulate.band import creep
from whorlpulse.simulate.coupling import Drive, Spin, coupled
from whorlpulse.simulate.foot import push_scale, wandering
from whorlpulse.simulate.wheel import run_down, treadle

R0 = 8.5
STIFF = Band(stiffness_n=1e7, tension_n=50.0, grip_static=3.0, grip_sliding=3.0)
EVEN = Foot(wander=0.0, turn_scatter=0.0, sharpness=1.0, brake_nm=0.0)


def turning(wheel_speed, flyer_speed):
    return Spin(0.0, 0.0, [wheel_speed], [flyer_speed])


def drive(**parts):
    base = Drive(DriveWheel(), Flyer(), Band(), EVEN, R0, 60.0)
    return replace(base, **parts)


@pytest.mark.parametrize("band", [Band(), Band(stiffness_n=18.0, tension_n=6.0), Band(stiffness_n=200.0)])
def test_steady_speeds_obey_the_creep_law(band):
    d = drive(band=band)
    spin = turning(6.0, 6.0 * R0)
    step = coupled(d, spin, 0.005, 0.0)
    w, f = 6.0, 6.0 * R0
    for _ in range(60_000):  # 300 s, a dozen of the slowest time constants
        w, f = step(w, f, 0.2, d.flyer.drag_nm)
    pull = (d.flyer.drag_nm + d.flyer.drag_nms * f) / d.arm_m
    assert 1.0 - f / (R0 * w) == pytest.approx(creep(pull, band.stiffness_n, band.tension_n), rel=1e-6)
    # and what drives balances what drags: T = bearing + c·ω + R0·M
    losses = d.wheel.bearing_nm + d.wheel.bearing_nms * w + R0 * pull * d.arm_m
    assert losses == pytest.approx(0.2, rel=1e-6)


def test_run_down_under_constant_torque_stops_where_energy_says():
    # both shafts geared firmly: J = J_w + R0² J_f, T = bearing + R0·drag; t = J ω/T, angle = J ω²/(2 T)
    wheel, flyer = DriveWheel(bearing_nms=0.0), Flyer(drag_nms=0.0)
    d = drive(wheel=wheel, flyer=flyer, band=STIFF)
    spin = turning(7.0, 7.0 * R0)
    assert run_down(spin, d, 30.0, 0.001, [])
    inertia = wheel.inertia_kgm2 + R0**2 * flyer.inertia_kgm2
    torque = wheel.bearing_nm + R0 * flyer.drag_nm
    assert (len(spin.wheel_speed) - 1) * 0.001 == pytest.approx(inertia * 7.0 / torque, rel=2e-3)
    assert spin.wheel_angle == pytest.approx(inertia * 49.0 / (2.0 * torque), rel=2e-3)
    assert spin.flyer_angle == pytest.approx(R0 * spin.wheel_angle, rel=1e-4)


def test_viscous_run_down_is_exponential():
    # J dω/dt = −T − c ω: ω = (ω0 + T/c) e^(−c t/J) − T/c, the flyer being next to nothing
    wheel, flyer = DriveWheel(bearing_nm=0.02, bearing_nms=0.03), Flyer(1e-8, 0.0, 0.0, 0.0)
    spin = turning(7.0, 7.0 * R0)
    assert not run_down(spin, drive(wheel=wheel, flyer=flyer, band=STIFF), 3.0, 0.001, [])
    t = 0.001 * np.arange(len(spin.wheel_speed))
    per_s, rest = 0.03 / wheel.inertia_kgm2, 0.02 / 0.03
    np.testing.assert_allclose(spin.wheel_speed, (7.0 + rest) * np.exp(-per_s * t) - rest, atol=3e-3)


@pytest.mark.parametrize(("band", "flyer_share"), [(Band(), 0.98), (Band(tension_n=0.35), 0.85)])
def test_energy_in_run_down_goes_into_bearing_drag_and_band(band, flyer_share):
    # start with the flyer too slow, so that the band first pulls hard (the slack one slides)
    d = drive(band=band, foot=replace(EVEN, brake_nm=0.1))
    spin = turning(7.0, 7.0 * flyer_share * R0)
    dt = 0.0005
    run_down(spin, d, 2.0, dt, [])
    w, f = np.array(spin.wheel_speed), np.array(spin.flyer_speed)
    wm, fm = 0.5 * (w[1:] + w[:-1]), 0.5 * (f[1:] + f[:-1])
    drag = d.flyer.drag_nm + d.flyer.drag_nms * fm
    pull_nm = d.flyer.inertia_kgm2 * np.diff(f) / dt + drag  # the flyer's own equation gives the band's torque
    heat = (d.wheel.bearing_nm + 0.1 + d.wheel.bearing_nms * wm) * wm + drag * fm + pull_nm * (R0 * wm - fm)
    kinetic = 0.5 * d.wheel.inertia_kgm2 * w**2 + 0.5 * d.flyer.inertia_kgm2 * f**2
    assert bool(spin.sliding) == (band.tension_n < 1.0)
    assert np.sum(heat) * dt == pytest.approx(kinetic[0] - kinetic[-1], rel=2e-3)


def test_a_sliding_band_brings_its_kinetic_grip_and_no_more():
    slack = Band(tension_n=0.5)
    d = drive(band=slack)
    spin = turning(7.0, 0.0)
    treadle(spin, d, wandering(EVEN, 1.0, np.random.default_rng(0)), 0.4, 0.001, [])
    # Euler-Eytelwein at the sliding grip, on the radius of the whorl's band line
    most = d.arm_m * 2.0 * 0.5 * math.tanh(0.5 * slack.grip_sliding * slack.wrap_rad)
    f = np.array(spin.flyer_speed)
    expected = (most - d.flyer.drag_nm - d.flyer.drag_nms * f[1:-1]) / d.flyer.inertia_kgm2
    np.testing.assert_allclose(np.diff(f)[1:] / 0.001, expected, rtol=1e-6)
    assert spin.sliding == [0]  # let go at once and never held again


def test_a_firm_band_never_slides_and_a_slack_one_lets_go_and_holds_again():
    foot = Foot()
    for tension, slides in ((7.0, False), (0.75, True)):
        spin = Spin(0.0, 0.0)
        moods = wandering(foot, 1.0, np.random.default_rng(4))
        treadle(spin, drive(band=Band(tension_n=tension, grip_sliding=0.25), foot=foot), moods, 40.0, 0.005, [])
        assert (len(spin.sliding) > 3) == slides


def test_ripple_of_one_pushing_foot_is_what_its_work_says():
    # Push π·T·sin θ over half a turn against a steady load T: the surplus between sin θ1 = 1/π and π − θ1 is
    # T (2π cos θ1 − π + 2 θ1) = J ω Δω.
    wheel, flyer = DriveWheel(inertia_kgm2=0.3, bearing_nm=0.15, bearing_nms=0.0), Flyer(1e-7, 0.0, 0.0, 0.0)
    spin = turning(6.28, 6.28 * R0)
    d = drive(wheel=wheel, flyer=flyer, band=STIFF)
    treadle(spin, d, wandering(EVEN, 1.0, np.random.default_rng(0)), 60.0, 0.002, [])
    w = np.array(spin.wheel_speed)[-10_000:]
    t1 = math.asin(1.0 / math.pi)
    surplus = 0.15 * (2.0 * math.pi * math.cos(t1) - math.pi + 2.0 * t1)
    assert np.ptp(w) == pytest.approx(surplus / (wheel.inertia_kgm2 * np.mean(w)), rel=0.03)


@pytest.mark.parametrize("sharpness", [1.0, 1.5, 3.0])
@pytest.mark.parametrize("treadles", [1, 2])
def test_push_has_unit_mean_over_a_turn(sharpness, treadles):
    theta = np.linspace(0.0, math.pi, 200_001)
    half_turn = np.mean(np.sin(theta) ** sharpness)
    assert push_scale(sharpness, treadles) * half_turn * treadles / 2.0 == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("treadles", [1, 2])
@pytest.mark.parametrize("cadence", [45.0, 62.0, 85.0])
def test_the_foot_keeps_its_cadence_from_rest_on(treadles, cadence):
    foot = Foot(treadles=treadles)
    spin = Spin(1.0, 0.0)
    moods = wandering(foot, 60.0 / cadence, np.random.default_rng(7))
    treadle(spin, drive(foot=foot, cadence_per_min=cadence), moods, 120.0, 0.005, [])
    w = np.array(spin.wheel_speed)
    assert w[0] == 0.0
    assert np.min(w[400:]) > 0.0  # under way after 2 s, and never stuck
    assert 60.0 * np.mean(w[2000:]) / (2.0 * math.pi) == pytest.approx(cadence, rel=0.04)


def test_drag_is_higher_while_yarn_winds_on():
    # between flyer angles 100 and 200 rad the band must creep more
    spin = turning(6.28, 6.28 * R0 * 0.995)
    d = drive(flyer=Flyer(winding_nm=0.02))
    treadle(spin, d, wandering(EVEN, 1.0, np.random.default_rng(0)), 6.0, 0.002, [100.0, 200.0])
    w, f = np.array(spin.wheel_speed), np.array(spin.flyer_speed)
    angle = np.cumsum(f) * 0.002
    loss = 1.0 - f / (R0 * w)
    winding, before = (angle > 110.0) & (angle < 190.0), (angle > 20.0) & (angle < 90.0)
    extra = creep(0.02 / d.arm_m, d.band.stiffness_n, d.band.tension_n)
    assert np.mean(loss[winding]) - np.mean(loss[before]) == pytest.approx(extra, rel=0.15)
