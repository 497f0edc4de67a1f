"""A shaft's angle as a smooth function of time, and the exact moments at which it passes a target.

The path between two nodes is the cubic that has the nodes' angles and speeds (Hermite). Where the speed is
linear between nodes and the angles are its trapezoidal sums, that cubic is the exact integral.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.pulses import FloatArray, IntArray

_NEWTON_STEPS = 40  # each step at least halves the bracket; a few suffice, the rest cost nothing


@dataclass(frozen=True)
class Path:
    """Angle of a shaft against time.

    t_s (n,) strictly ascending seconds; turns (n,) angle in turns; speed (n,) turns per second.
    Before the first and after the last node the shaft is taken to stand.
    """

    t_s: FloatArray
    turns: FloatArray
    speed: FloatArray

    def at(self, t_s: FloatArray | float) -> FloatArray:
        """Return the angle in turns at the times t_s (any shape), held constant outside the path."""
        t = np.clip(np.asarray(t_s, np.float64), self.t_s[0], self.t_s[-1])
        k = np.clip(np.searchsorted(self.t_s, t, side="right") - 1, 0, len(self.t_s) - 2)
        return self._cubic(k, (t - self.t_s[k]) / (self.t_s[k + 1] - self.t_s[k]))[0]

    def minus(self, turns: FloatArray, speed: FloatArray) -> Path:
        """Return this path with turns (n,) and speed (n,) taken off at the nodes."""
        return Path(self.t_s, self.turns - turns, self.speed - speed)

    def passages(self, angle: float, width: float = 0.0) -> FloatArray:
        """Return the ascending times (m,) in seconds at which a target comes under the sensor.

        The target lies over the angles from `angle` to `angle + width` turns. A shaft that turns forward
        meets its near edge, one that turns back its far edge; a sensor reports both alike.
        """
        forward = self._crossings(angle, +1)
        backward = self._crossings(angle + width, -1)
        return np.sort(np.concatenate([forward, backward])) if len(backward) else forward

    def _crossings(self, angle: float, direction: int) -> FloatArray:
        whole = np.floor(self.turns - angle).astype(np.int64)
        jumps = np.diff(whole) * direction
        first = np.flatnonzero(jumps > 0)
        if not len(first):
            return np.empty(0)
        n = jumps[first]
        k = np.repeat(first, n)
        step = np.arange(n.sum()) - np.repeat(np.cumsum(n) - n, n)
        passed = whole[k] + 1 + step if direction > 0 else whole[k] - step
        u = self._solve(k, passed + angle, direction)
        return np.asarray(self.t_s[k] + u * (self.t_s[k + 1] - self.t_s[k]), np.float64)

    def _solve(self, k: IntArray, level: FloatArray, direction: int) -> FloatArray:
        """Return where (0 to 1) between nodes k and k+1 the path reaches level: Newton inside a bracket."""
        low, high = np.zeros(len(k)), np.ones(len(k))
        rise = self.turns[k + 1] - self.turns[k]
        u = np.clip((level - self.turns[k]) / rise, 0.0, 1.0)
        for _ in range(_NEWTON_STEPS):
            value, slope = self._cubic(k, u)
            short = (value - level) * direction < 0
            low, high = np.where(short, u, low), np.where(short, high, u)
            with np.errstate(divide="ignore", invalid="ignore"):
                new = u - (value - level) / slope
            # the negated test also catches a slope of zero
            new = np.where((new >= low) & (new <= high), new, 0.5 * (low + high))
            done = bool(np.max(np.abs(new - u)) < 1e-14)
            u = new
            if done:
                break
        return u

    def _cubic(self, k: IntArray, u: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return angle and its derivative by u at the fraction u of the interval after node k."""
        h = self.t_s[k + 1] - self.t_s[k]
        p0, rise = self.turns[k], self.turns[k + 1] - self.turns[k]
        m0, m1 = self.speed[k] * h, self.speed[k + 1] * h
        # p0 + m0 u + c u² + d u³ with the end values and slopes given
        c, d = 3.0 * rise - 2.0 * m0 - m1, m0 + m1 - 2.0 * rise
        return p0 + u * (m0 + u * (c + u * d)), m0 + u * (2.0 * c + 3.0 * u * d)


def joined(parts: list[Path]) -> Path:
    """Return the parts, each starting at its predecessor's last node, as one path."""
    kept = [parts[0]] + [Path(p.t_s[1:], p.turns[1:], p.speed[1:]) for p in parts[1:]]
    return Path(
        np.concatenate([p.t_s for p in kept]),
        np.concatenate([p.turns for p in kept]),
        np.concatenate([p.speed for p in kept]),
    )


def from_speed(t_s: FloatArray, speed: FloatArray, start_turns: float) -> Path:
    """Return the path whose speed (n,) is linear between the nodes t_s (n,)."""
    steps = 0.5 * (speed[1:] + speed[:-1]) * np.diff(t_s)
    return Path(t_s, np.concatenate([[start_turns], start_turns + np.cumsum(steps)]), speed)
