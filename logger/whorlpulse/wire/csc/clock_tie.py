"""Ties a sensor's clock to the host's by the lower envelope of its arrival delays; no input or output.

A notification comes some time after the event that it tells of: the event waits for its notification, that for
a free moment on the air and in the host. Delays only ever add, so with the sensor's clock e and the host's h the
line h = e + offset + drift * e that lies under all points (e, arrival) and closest to them is the tie. Of all
lines that satisfy event + offset + drift <= arrival, the one with the least total distance is the edge of the
points' lower convex hull over their mean e.

A sensor that reports at a steady pace also says when an event had not yet come: it follows the report before. That
bounds the line from below in the same way, and the tie is then taken midway between the two.

References: S. B. Moon, P. Skelly, D. Towsley, "Estimation and removal of clock skew from network delay
measurements", IEEE INFOCOM 1999 (the linear program); L. Zhang, Z. Liu, C. H. Xia, "Clock synchronization
algorithms for network measurements", IEEE INFOCOM 2002 (the convex hull). Both from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from whorlpulse.wire.csc.hull import Point, slope_over

#: Steepest drift believed: the radio's standard lets a sleep clock be off by 500 parts in a million.
DRIFT_LIMIT: Final = 500e-6
#: Delay that every notification has at least and that no envelope can show: rectangular, 0 to 10 ms on the air
#: and in the host. Common practice, no source.
_LEAST_DELAY_U_S: Final = 0.010 / math.sqrt(12)
#: Event times are whole 1/1024 s.
QUANTUM_U_S: Final = 1 / 1024 / math.sqrt(12)
#: Which of the ordered distances to the envelope says how far it may be off: two lie on it.
_FIFTH: Final = 4
#: So many events must be known not to have come yet before that side is heeded.
_ENOUGH_BOUNDS: Final = 20


@dataclass(frozen=True, slots=True)
class Tie:
    """host = event + offset_s + drift * (event - at_s); u_s: standard uncertainty of that, in seconds."""

    at_s: float
    offset_s: float
    drift: float
    u_s: float

    def host_s(self, event_s: float) -> float:
        """Return the host's time of an event at `event_s` on the sensor's clock."""
        return event_s + self.offset_s + self.drift * (event_s - self.at_s)

    def event_s(self, host_s: float) -> float:
        """Return the sensor's clock at the host's time `host_s`."""
        return self.at_s + (host_s - self.at_s - self.offset_s) / (1 + self.drift)


def envelope(points: Sequence[Point], not_yet: Sequence[Point] = (), longest_wait_s: float = 0.0) -> Tie:
    """Return the tie that one or more points (event_s, arrival_s), ascending in event_s, allow.

    not_yet: (event_s, host's time at which that event had not yet happened), ascending in event_s.
    longest_wait_s: for a sensor that reports at its own pace and not at each event, how long an event may wait for
    its report: if the distances from the envelope do not spread over that, perhaps no wait was ever short. 0 for a
    sensor that reports each event.

    u_s combines: how thin the points lie where the envelope rests (the fifth smallest distance; it stands for a
    standard error, checked by simulation for exponential and even waits), the room between the bounds or else the
    spread of waits never seen, the delay that no point is free of, and the tick.
    """
    if not points:
        raise ValueError("an envelope needs a point: add one before asking")
    mean = math.fsum(x for x, _ in points) / len(points)
    upper = _under([(x, y - x) for x, y in points], mean)
    if len(points) <= _FIFTH:
        thin = max(upper.thin, longest_wait_s, 0.1)
        return Tie(mean, upper.offset, upper.slope, math.hypot(thin, _LEAST_DELAY_U_S))
    unseen = max(0.0, longest_wait_s - upper.spread) / math.sqrt(12)
    offset, slope, thin = upper.offset, upper.slope, upper.thin
    if len(not_yet) >= _ENOUGH_BOUNDS:
        lower = _under([(x, x - y) for x, y in not_yet], mean)
        room = upper.offset + lower.offset  # lower is upside down
        if room >= 0:
            offset, slope = upper.offset - room / 2, (upper.slope - lower.slope) / 2
            thin, unseen = math.hypot(upper.thin, lower.thin) / 2, room / math.sqrt(12)
    return Tie(mean, offset, slope, math.hypot(thin, unseen, _LEAST_DELAY_U_S, QUANTUM_U_S))


@dataclass(frozen=True, slots=True)
class _Line:
    """offset at the mean, slope; thin: the fifth smallest distance of a point from it, spread: the largest."""

    offset: float
    slope: float
    thin: float
    spread: float


def _under(delays: Sequence[Point], mean: float) -> _Line:
    """The line under all delays that is nearest to them, not steeper than clocks can drift."""
    slope = min(max(slope_over(delays, mean), -DRIFT_LIMIT), DRIFT_LIMIT)
    distances = sorted(d - slope * (x - mean) for x, d in delays)
    offset = distances[0]
    return _Line(offset, slope, distances[min(_FIFTH, len(distances) - 1)] - offset, distances[-1] - offset)
