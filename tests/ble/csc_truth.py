"""What speed-and-cadence sensors would send from shafts whose every turn is known; shares nothing with the package.

Simulated: shafts of wandering speed, sensors with a clock of their own rate and start, notifications at each event
or at the sensor's own pace, each arriving late by a least delay and an exponential part.
"""

from __future__ import annotations

import math
import random
import struct
from dataclasses import dataclass


@dataclass(frozen=True)
class Sent:
    """A notification: when it arrives at the host, its bytes, and how many turns the shaft had made."""

    arrival_s: float
    payload: bytes
    turns: int


def wheel_and_flyer(seed: int, seconds: float, ratio: float = 6.21) -> tuple[list[float], list[float]]:
    """Times of each whole turn of a wheel treadled at about 55 a minute, and of a flyer that turns `ratio` as fast."""
    r = random.Random(seed)
    step, t, wheel, flyer, phase = 0.002, 0.0, [], [], 0.3
    wander = 0.0
    drift_to = r.uniform(-0.1, 0.1)
    while t < seconds:
        wander += step * (-(wander - drift_to) / 20.0) + 0.03 * math.sqrt(step) * r.gauss(0, 1)
        speed = 55 / 60 * (1 + 0.06 * math.sin(2 * math.pi * phase) + wander)
        after = phase + speed * step
        for factor, times in ((1.0, wheel), (ratio, flyer)):
            whole = math.floor(after * factor)
            if whole > math.floor(phase * factor):
                times.append(t + step * (whole - phase * factor) / ((after - phase) * factor))
        phase, t = after, t + step
    return wheel, flyer


@dataclass(frozen=True)
class Sensor:
    """ppm: how fast its clock is; pace_s: seconds between notifications, 0 for one at each event."""

    ppm: float
    start_ticks: int
    start_count: int = 0
    pace_s: float = 0.0
    least_s: float = 0.005
    mean_s: float = 0.03

    def ticks(self, t_s: float) -> int:
        return self.start_ticks + math.floor(t_s * (1 + self.ppm * 1e-6) * 1024)

    def sends(self, times: list[float], seconds: float, seed: int) -> list[Sent]:
        r = random.Random(seed)
        moments = list(times)
        if self.pace_s:
            first = r.uniform(0, self.pace_s)
            moments = [first + k * self.pace_s for k in range(int((seconds - first) / self.pace_s))]
        sent, done, earliest = [], 0, 0.0
        for moment in moments:
            while done < len(times) and times[done] <= moment:
                done += 1
            if not done:
                continue
            event = self.ticks(times[done - 1]) % 65536
            payload = b"\1" + struct.pack("<IH", self.start_count + done, event)
            # notifications of one link never overtake one another
            earliest = max(earliest, moment + self.least_s + r.expovariate(1 / self.mean_s))
            sent.append(Sent(earliest, payload, done))
        return sent
