"""One run, from rest to rest: either by mechanics, or with a prescribed speed for tests of estimators."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Protocol

import numpy as np

from whorlpulse.pulses import FloatArray

from .band import creep
from .coupling import Drive, Spin
from .foot import Foot
from .losses import Burst
from .path import Path, from_speed
from .wheel import run_down, treadle

_TURN = 2.0 * math.pi
_SAME_BURST_S = 0.1  # slides that follow so closely are one burst
_LEAST_BURST = 0.02  # flyer turns: less is a twitch of the band at start or stop
_RAMP_S = (1.2, 1.5)  # prescribed motion: time to speed up and to run down


class RunInMaking(Protocol):
    """A run that grows phase by phase. Times count from its start."""

    drive: Drive

    def treadle(self, drive: Drive, duration_s: float) -> None:
        """Go on treadling."""

    def run_down(self, longest_s: float) -> bool:
        """Stop treadling; say whether the wheel came to rest within longest_s."""

    def paths(self) -> tuple[Path, Path]:
        """Return the wheel's and the flyer's paths."""

    def bursts(self) -> list[Burst]:
        """Return where the band slid."""


class MechanicalRun:
    """Foot, inertia, creep and grip (`wheel`, `coupling`)."""

    def __init__(
        self,
        drive: Drive,
        step_s: float,
        start_turns: tuple[float, float],
        moods: Iterator[tuple[float, float]],
        winding_at: list[float],
    ) -> None:
        self.drive, self._step_s, self._start, self._moods = drive, step_s, start_turns, moods
        self._spin = Spin(start_turns[0] * _TURN, start_turns[1] * _TURN)
        self._winding_at = winding_at

    def treadle(self, drive: Drive, duration_s: float) -> None:
        """Go on treadling."""
        self.drive = drive
        treadle(self._spin, drive, self._moods, duration_s, self._step_s, self._winding_at)

    def run_down(self, longest_s: float) -> bool:
        """Stop treadling; say whether the wheel came to rest within longest_s."""
        return run_down(self._spin, self.drive, longest_s, self._step_s, self._winding_at)

    def paths(self) -> tuple[Path, Path]:
        """Return the wheel's and the flyer's paths."""
        t = self._step_s * np.arange(len(self._spin.wheel_speed), dtype=np.float64)
        wheel = from_speed(t, np.array(self._spin.wheel_speed, np.float64) / _TURN, self._start[0])
        return wheel, from_speed(t, np.array(self._spin.flyer_speed, np.float64) / _TURN, self._start[1])

    def bursts(self) -> list[Burst]:
        """Return where the band slid: turns lost against those of a band that creeps as far as it can."""
        edges = [*self._spin.sliding] + [len(self._spin.wheel_speed) - 1] * (len(self._spin.sliding) % 2)
        spans: list[list[int]] = []
        for a, b in zip(edges[::2], edges[1::2], strict=True):
            if spans and (a - spans[-1][1]) * self._step_s < _SAME_BURST_S:
                spans[-1][1] = b
            else:
                spans.append([a, b])
        if not spans:
            return []
        wheel, flyer = self.paths()
        band, arm = self.drive.band, self.drive.arm_m
        kept = self.drive.ratio * (1 - creep(self.drive.grip_nm[1] / arm, band.stiffness_n, band.tension_n))
        found = []
        for a, b in spans:
            lost = kept * (wheel.turns[b] - wheel.turns[a]) - (flyer.turns[b] - flyer.turns[a])
            if abs(lost) >= _LEAST_BURST:
                found.append(Burst(float(wheel.t_s[a]), float(wheel.t_s[b]), float(lost)))
        return found


class KinematicRun:
    """A smooth wheel speed with ripple and drift, and a flyer at exactly the ratio."""

    def __init__(self, drive: Drive, step_s: float, start_turns: tuple[float, float], rng: np.random.Generator) -> None:
        self.drive, self._step_s, self._start, self._rng = drive, step_s, start_turns, rng
        self._knots = [(0.0, 0.0)]

    def treadle(self, drive: Drive, duration_s: float) -> None:
        """Go on treadling; a change of speed takes as long as starting from rest."""
        self.drive, start = drive, self._knots[-1][0]
        speed = drive.cadence_per_min / 60.0
        self._knots.append((start + min(_RAMP_S[0], 0.5 * duration_s), speed))
        self._knots.append((start + duration_s, speed))

    def run_down(self, longest_s: float) -> bool:
        """Ramp down to rest, faster than usual if longest_s is short."""
        self._knots.append((self._knots[-1][0] + min(longest_s, _RAMP_S[1]), 0.0))
        return True

    def paths(self) -> tuple[Path, Path]:
        """Return the wheel's and the flyer's paths: the same cubics, but for the factor."""
        end = self._knots[-1][0]
        t = np.linspace(0.0, end, math.ceil(end / self._step_s) + 1)
        speed = np.interp(t, [k[0] for k in self._knots], [k[1] for k in self._knots]) * _drift(
            self.drive, t, self._rng
        )
        base = from_speed(t, speed, self._start[0])
        wheel = _rippled(base, self.drive.foot)
        turns = self._start[1] + self.drive.ratio * (wheel.turns - wheel.turns[0])
        return wheel, Path(t, turns, self.drive.ratio * wheel.speed)

    def bursts(self) -> list[Burst]:
        """Return none: nothing slides here but by order."""
        return []


def _drift(drive: Drive, t: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return the factor on the speed: slow waves of the foot's wander, quick ones of its turn-to-turn scatter.

    A push that scatters by a share s moves the speed by about s/10, because the wheel's inertia evens it out.
    """
    foot, turn_s = drive.foot, 60.0 / drive.cadence_per_min
    factor = np.ones(len(t))
    slow, quick = foot.wander * math.sqrt(2.0 / 3.0), 0.1 * foot.turn_scatter * math.sqrt(0.5)
    for size, lowest, highest, waves in (
        (slow, 0.5 * foot.wander_s, 3.0 * foot.wander_s, 3),
        (quick, 1.5 * turn_s, 5.0 * turn_s, 4),
    ):
        for _ in range(waves):
            factor += size * np.sin(_TURN * (t / rng.uniform(lowest, highest) + rng.random()))
    return factor


def _rippled(base: Path, foot: Foot) -> Path:
    """Return base with the speed within a turn raised and lowered by the foot's ripple, once a push."""
    turns, factor = base.turns.copy(), np.ones(len(base.t_s))
    for size, order in ((0.85 * foot.ripple, foot.treadles), (0.15 * foot.ripple, 2 * foot.treadles)):
        w = _TURN * order
        turns += size / w * (np.sin(w * base.turns) - math.sin(w * base.turns[0]))
        factor += size * np.cos(w * base.turns)
    return Path(base.t_s, turns, base.speed * factor)
