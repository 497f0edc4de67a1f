"""Treadling and running down: the foot's torque by crank angle, step by step through the coupled shafts."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from .coupling import Drive, Spin, coupled
from .foot import Foot, push_scale

_TURN = 2.0 * math.pi

Moods = Iterator[tuple[float, float]]
Torque = Callable[[float, float, float], float]


def treadle(spin: Spin, drive: Drive, moods: Moods, duration_s: float, step_s: float, winding_at: list[float]) -> None:
    """Treadle for duration_s, adding to spin one entry every step_s.

    moods: the foot's deviations turn by turn (`foot.wandering`). winding_at: ascending flyer angles (rad) at
    which winding-on begins and ends by turns; the flyer's drag is higher in between. The hand starts the
    wheel up to half the cadence, and helps again when it is about to hang at the dead centre.
    """
    _run(spin, drive, _foot(drive, moods, step_s, spin), 0.0, round(duration_s / step_s), step_s, winding_at)


def run_down(spin: Spin, drive: Drive, longest_s: float, step_s: float, winding_at: list[float]) -> bool:
    """Let the wheel run down, braked, until both shafts stand or longest_s is over; say whether they stand."""
    brake, steps = drive.foot.brake_nm, round(longest_s / step_s)
    _run(spin, drive, lambda _th, _w, _next: 0.0, brake, steps, step_s, winding_at, to_rest=True)
    return spin.wheel_speed[-1] == 0.0 and spin.flyer_speed[-1] == 0.0


def _run(
    spin: Spin,
    drive: Drive,
    push: Torque,
    brake_nm: float,
    steps: int,
    step_s: float,
    winding_at: list[float],
    *,
    to_rest: bool = False,
) -> None:
    step, half = coupled(drive, spin, step_s, brake_nm), 0.5 * step_s
    w, f, th, ph = spin.wheel_speed[-1], spin.flyer_speed[-1], spin.wheel_angle, spin.flyer_angle
    keep_w, keep_f = spin.wheel_speed.append, spin.flyer_speed.append
    passed = sum(x <= ph for x in winding_at)
    event, drag = _next_winding(drive, winding_at, passed)
    for _ in range(steps):
        if ph >= event:
            passed += 1
            event, drag = _next_winding(drive, winding_at, passed)
        new_w, new_f = step(w, f, push(th, w, half), drag)
        th += half * (w + new_w)
        ph += half * (f + new_f)
        w, f = new_w, new_f
        keep_w(w)
        keep_f(f)
        if to_rest and w == 0.0 and f == 0.0:
            break
    spin.wheel_angle, spin.flyer_angle = th, ph


def _next_winding(drive: Drive, winding_at: list[float], passed: int) -> tuple[float, float]:
    """Return the next angle at which the drag changes, and the constant drag until then."""
    event = winding_at[passed] if passed < len(winding_at) else math.inf
    return event, drive.flyer.drag_nm + (drive.flyer.winding_nm if passed % 2 else 0.0)


def _foot(drive: Drive, moods: Moods, step_s: float, spin: Spin) -> Torque:
    """Return the torque (N·m) of foot and hand as a function of crank angle, wheel speed and half a step."""
    foot, aim = drive.foot, drive.cadence_per_min / 60.0 * _TURN
    decide, sharpness, sin = _decision(drive, aim, moods), foot.sharpness, math.sin
    left, right = _strengths(foot)
    mean, turn_end, turn_from, steps = 0.0, -math.inf, spin.wheel_angle, 0
    hanging, helped, hand = 0.25 * aim, 0.5 * aim, foot.hand_start_nm
    helping = spin.wheel_speed[-1] < helped

    def push(th: float, w: float, half: float) -> float:
        nonlocal mean, turn_end, turn_from, steps, helping
        if th >= turn_end:
            mean = decide((th - turn_from) / (steps * step_s) if steps else aim)
            turn_from, steps, turn_end = th, 0, (th // _TURN + 1.0) * _TURN
        steps += 1
        crank = sin(th + half * w)
        shape: float = left * crank**sharpness if crank > 0.0 else right * (-crank) ** sharpness
        if helping or w < hanging:
            helping = w < helped
            return mean * shape + hand
        return mean * shape

    return push


def _strengths(foot: Foot) -> tuple[float, float]:
    scale = push_scale(foot.sharpness, foot.treadles)
    if foot.treadles == 1:
        return scale, 0.0
    return scale * (1.0 + foot.imbalance), scale * (1.0 - foot.imbalance)


def _decision(drive: Drive, aim: float, moods: Moods) -> Callable[[float], float]:
    """Return how the foot chooses its mean torque for the coming turn from the last turn's mean speed."""
    foot, flyer, wheel, r0 = drive.foot, drive.flyer, drive.wheel, drive.ratio
    inertia = wheel.inertia_kgm2 + r0 * r0 * flyer.inertia_kgm2
    usual = wheel.bearing_nm + wheel.bearing_nms * aim + r0 * (flyer.drag_nm + flyer.drag_nms * r0 * aim)

    def decide(mean_speed: float) -> float:
        nonlocal usual
        slow, quick = next(moods)
        # what makes good the kinetic energy J·ω·Δω over one turn of 2π
        correction = foot.eagerness * inertia * aim * (aim * (1.0 + slow) - mean_speed) / _TURN
        usual += 0.1 * correction
        return min(max((usual + correction) * (1.0 + quick), 0.0), foot.strongest_nm)

    return decide
