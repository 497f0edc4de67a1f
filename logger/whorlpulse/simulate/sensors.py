"""A cheap sensor: when it reports a target, and which pulses it leaves out or adds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.pulses import FloatArray

from .path import Path

_BOUNCE_S = (0.2e-3, 4.0e-3)
_SECOND_BOUNCE = 0.3  # share of bounces that bounce twice
_DOUBLE = (0.02, 0.5)  # where between two passages a doubled pulse falls


@dataclass(frozen=True)
class Sensor:
    """One channel: targets at `angles` (turns, the first 0), each `width` turns wide.

    start_angle: where target 0 is when the log begins, in turns past the sensor (None: anywhere). jitter_s:
    standard deviation of a report's time. missed, doubled, bounced: probabilities per passage.
    """

    channel: str
    angles: tuple[float, ...] = (0.0,)
    width: float = 0.01
    start_angle: float | None = None
    jitter_s: float = 20e-6
    missed: float = 0.0
    doubled: float = 0.0
    bounced: float = 0.0

    def __post_init__(self) -> None:
        ordered = list(self.angles) == sorted(set(self.angles))
        if not self.angles or self.angles[0] != 0.0 or not ordered or self.angles[-1] >= 1.0:
            raise ValueError(f"target angles must rise from 0 and stay below 1 turn, not {self.angles}")
        if not 0.0 <= self.missed + self.doubled <= 1.0:
            raise ValueError("missed + doubled must lie between 0 and 1")


@dataclass(frozen=True)
class Reports:
    """What a sensor reports: times (n,) ascending seconds; how many pulses were missed, doubled, bounced.

    passages (m,) holds the true moments.
    """

    t_s: FloatArray
    passages: FloatArray
    missed: int
    doubled: int
    bounced: int


def watch(sensor: Sensor, path: Path, rng: np.random.Generator) -> Reports:
    """Return what the sensor reports of the shaft's path."""
    start = float(rng.random()) if sensor.start_angle is None else sensor.start_angle
    passages = np.sort(np.concatenate([path.passages(a - start, sensor.width) for a in sensor.angles]))
    n = len(passages)
    fate = rng.random(n)
    missed = fate < sensor.missed
    doubled = ~missed & (fate < sensor.missed + sensor.doubled)
    bounced = ~missed & (rng.random(n) < sensor.bounced)
    twice = bounced & (rng.random(n) < _SECOND_BOUNCE)
    heard = passages + sensor.jitter_s * rng.standard_normal(n)
    gaps = np.diff(passages, append=passages[-1:] + np.median(np.diff(passages)) if n > 1 else passages + 0.1)
    parts = [
        heard[~missed],
        (heard + gaps * rng.uniform(*_DOUBLE, n))[doubled],
        (heard + rng.uniform(*_BOUNCE_S, n))[bounced],
        (heard + rng.uniform(*_BOUNCE_S, n))[twice],
    ]
    times = np.sort(np.concatenate(parts))
    extra = int(bounced.sum() + twice.sum())
    times = times[times >= 0.0]  # jitter may carry a passage at the very start to before it
    return Reports(times, passages, int(missed.sum()), int(doubled.sum()), extra)
