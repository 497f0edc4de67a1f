"""The shape of a wheel turn as a few waves: speed at an angle with its uncertainty, the swing, the slow places."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from whorlpulse.estimators.measured import Measured
from whorlpulse.pulses import FloatArray

_GRID = 240


@dataclass(frozen=True)
class Shape:
    """D(theta) = sum a_h (cos 2 pi h theta - 1) + b_h sin 2 pi h theta: time gone less angle made, in parts of a turn.

    a, b (orders,); covariance (2 orders, 2 orders) of a then b; laps: how many independent laps made it.
    """

    a: FloatArray
    b: FloatArray
    covariance: FloatArray
    laps: int

    @property
    def orders(self) -> int:
        """The highest order."""
        return len(self.a)

    @property
    def dof(self) -> float:
        """Degrees of freedom of its uncertainties."""
        return float(max(self.laps - 2 * self.orders, 1))

    def deviation(self, theta: FloatArray) -> FloatArray:
        """D at theta (n,)."""
        wave = 2 * pi * np.arange(1, self.orders + 1) * np.asarray(theta)[:, None]
        found: FloatArray = (np.cos(wave) - 1.0) @ self.a + np.sin(wave) @ self.b
        return found


def _gradient(shape: Shape, theta: FloatArray) -> FloatArray:
    """dD/dtheta by each coefficient, (n, 2 orders)."""
    w = 2 * pi * np.arange(1, shape.orders + 1)
    wave = w * np.asarray(theta)[:, None]
    return np.hstack((-w * np.sin(wave), w * np.cos(wave)))


def _speed(shape: Shape, theta: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Speed relative to the mean (n,), and its derivative by each coefficient (n, 2 orders)."""
    gradient = _gradient(shape, theta)
    # A fit to noise may bend time back; no wheel stands still within a usual turn.
    slowness = np.maximum(1.0 + gradient @ np.concatenate((shape.a, shape.b)), 0.05)
    return 1.0 / slowness, -gradient / slowness[:, None] ** 2


def speed_at(shape: Shape, theta: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Speed relative to the mean at theta (n,), and its standard uncertainty (n,)."""
    speed, by = _speed(shape, theta)
    return speed, np.sqrt(np.einsum("ij,jk,ik->i", by, shape.covariance, by))


def swing(shape: Shape) -> tuple[float, float, Measured]:
    """Angle of the slowest place, angle of the fastest, and how far apart their speeds are, relative to the mean."""
    theta = np.arange(_GRID) / _GRID
    speed, by = _speed(shape, theta)
    low, high = int(speed.argmin()), int(speed.argmax())
    apart = by[high] - by[low]
    u = sqrt(float(apart @ shape.covariance @ apart))
    return float(theta[low]), float(theta[high]), Measured(float(speed[high] - speed[low]), u, shape.dof)


def valleys(shape: Shape, rise: float) -> list[float]:
    """Angles of the slow places, ascending: between any two of them the speed rises by at least `rise` above both."""
    theta = np.arange(_GRID) / _GRID
    speed, _ = _speed(shape, theta)
    lows = np.flatnonzero((speed <= np.roll(speed, 1)) & (speed < np.roll(speed, -1)))
    kept: list[int] = []
    for i in sorted(lows.tolist(), key=lambda i: float(speed[i])):
        if all(_saddle(speed, i, k) - speed[i] >= rise for k in kept):
            kept.append(i)
    return sorted(float(theta[i]) for i in kept)


def _saddle(speed: FloatArray, i: int, k: int) -> float:
    """The lower of the two crests between places i and k on the circle."""
    first, last = min(i, k), max(i, k)
    between, around = speed[first:last], np.concatenate((speed[last:], speed[:first]))
    return min(float(between.max()), float(around.max()))
