"""Two rollers pressed together, as an outside physics engine turns them: MuJoCo 4.0.0 (Apache-2.0, tests only).

The large roller (radius 0.24 m) is driven to a speed that ripples once a turn, as a treadled wheel's does; the small
one (0.03 m, crowned, so that they touch in one point) is carried along by friction alone, against a load. The engine's
contact model is not ours: friction gives way in proportion to the force it carries (creep, more of it where `firmness`
is low), and beyond mu·N it slides. Pressed contacts sink in a little, so that even without load the ratio is not
8.000; the truth is the engine's own joint angles, and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass

import mujoco
import numpy as np
import numpy.typing as npt
from scipy.interpolate import CubicHermiteSpline

Samples = npt.NDArray[np.float64]

STEP_S = 1e-3
MU, PRESSED_N, SMALL_M, LARGE_M = 0.4, 20.0, 0.03, 0.24
#: What friction can carry to the small roller, mu N r.
GRIP_NM = MU * PRESSED_N * SMALL_M
PUSH_S = 0.5
_JITTER_S = 3e-6  # of the pulses
_START_S, _REST_S = 1.5, 1.0  # speeding up; and the wheel stands at the log's start
_DRIVEN, _PRESS, _CARRIED = 0, 1, 2  # the joints, in the order of the model

_MODEL = """
<mujoco>
  <option timestep="{step}" gravity="0 0 0" cone="elliptic" impratio="{firmness}" integrator="implicitfast"/>
  <worldbody>
    <body name="large">
      <joint name="drive" type="hinge" axis="0 0 1" damping="0.01"/>
      <inertial pos="0 0 0" mass="3" diaginertia="0.05 0.05 0.09"/>
      <geom type="sphere" size="{large}" friction="{mu} 0 0"/>
    </body>
    <body name="arm" pos="{apart} 0 0">
      <joint type="slide" axis="1 0 0" damping="50"/>
      <inertial pos="0 0 0" mass="0.3" diaginertia="1e-4 1e-4 1e-4"/>
      <body name="small">
        <joint type="hinge" axis="0 0 1"/>
        <inertial pos="0 0 0" mass="0.2" diaginertia="2e-4 2e-4 3e-4"/>
        <geom type="sphere" size="{small}" friction="{mu} 0 0"/>
      </body>
    </body>
  </worldbody>
  <actuator><velocity joint="drive" kv="8"/></actuator>
</mujoco>
"""


@dataclass(frozen=True)
class Turned:
    """What the engine did: t_s (n,), turns of both rollers (n,), each in its own sense, and their speeds per second.

    sliding (n,): whether friction was at its limit and the surfaces slid past each other.
    """

    t_s: Samples
    large: Samples
    large_speed: Samples
    small: Samples
    small_speed: Samples
    sliding: npt.NDArray[np.bool_]

    def ratio_between(self, start_s: float, end_s: float) -> float:
        """Small turns per large turn between two moments, by the engine's state."""
        ends = [start_s, end_s]
        large = np.diff(CubicHermiteSpline(self.t_s, self.large, self.large_speed)(ends))
        small = np.diff(CubicHermiteSpline(self.t_s, self.small, self.small_speed)(ends))
        return float(small[0] / large[0])

    def passages(self, shaft: str, targets: int, seed: int) -> Samples:
        """When targets evenly around a shaft ("large", "small") pass by the engine's angles, give or take some µs."""
        turns, speed = getattr(self, shaft), getattr(self, f"{shaft}_speed")
        wanted = np.arange(np.ceil(turns[0] * targets + 1e-3), turns[-1] * targets) / targets
        guess = np.interp(wanted, turns, self.t_s)
        curve = CubicHermiteSpline(self.t_s, turns, speed)
        rate = curve.derivative()
        for _ in range(3):  # Newton, from the straight line between two steps of a millisecond
            guess -= (curve(guess) - wanted) / rate(guess)
        jitter = _JITTER_S * np.random.default_rng(seed).standard_normal(len(guess))
        return np.sort(guess + jitter)


def turned(
    duration_s: float,
    *,
    load_nm: float = 0.0,
    firmness: float = 10.0,
    pushes_s: tuple[float, ...] = (),
    push: float = 1.0,
) -> Turned:
    """Turn the rollers against a load; for half a second from each of pushes_s on the load is push times the grip."""
    xml = _MODEL.format(step=STEP_S, firmness=firmness, mu=MU, large=LARGE_M, small=SMALL_M, apart=LARGE_M + SMALL_M)
    model = mujoco.MjModel.from_xml_string(xml)
    data = mujoco.MjData(model)
    steps = round(duration_s / STEP_S)
    state, grip = np.empty((steps, 4)), np.zeros((steps, 2))
    t_s = STEP_S * (1.0 + np.arange(steps))
    load = np.full(steps, load_nm)
    for at in pushes_s:
        load[(t_s >= at) & (t_s < at + PUSH_S)] = push * GRIP_NM
    aim = 2.0 * np.pi * np.clip((t_s - _REST_S) / _START_S, 0.0, 1.0) * (1.0 + 0.03 * np.sin(0.4 * t_s))
    data.qfrc_applied[_PRESS] = -PRESSED_N
    force = np.zeros(6)
    for i in range(steps):
        data.ctrl[0] = aim[i] * (1.0 + 0.1 * np.sin(data.qpos[_DRIVEN]))
        # a load hinders, it does not turn a standing roller
        data.qfrc_applied[_CARRIED] = load[i] if data.qvel[_CARRIED] < -0.5 else 0.0
        mujoco.mj_step(model, data)
        state[i] = data.qpos[_DRIVEN], -data.qpos[_CARRIED], data.qvel[_DRIVEN], -data.qvel[_CARRIED]
        if data.ncon:
            mujoco.mj_contactForce(model, data, 0, force)
            grip[i] = force[0], np.hypot(force[1], force[2])
    turns = state / (2.0 * np.pi)
    sliding = grip[:, 1] > 0.999 * MU * grip[:, 0]
    return Turned(t_s, turns[:, 0], turns[:, 2], turns[:, 1], turns[:, 3], sliding & (grip[:, 0] > 0.0))
