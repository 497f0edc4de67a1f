"""One speed-and-cadence sensor as a recording follows it: its counts, its clock, its events on the host's.

No input or output, no clock of its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol

from whorlpulse.wire.csc.clock_tie import Tie
from whorlpulse.wire.csc.counts import (
    TICKS_PER_S,
    Count,
    EventClock,
    Measurement,
    Restarted,
    ShaftCount,
    Turned,
    Unplaced,
)
from whorlpulse.wire.csc.tie_window import TieWindow

#: A better tie is taken over gently, so that it distorts no interval by more than this.
_SLEW: Final = 1e-3


class Placement(Protocol):
    """Where a sensor's events lie on the host's clock, known beforehand."""

    @property
    def u_s(self) -> float:
        """Standard uncertainty in seconds."""
        ...

    def host_s(self, event_s: float) -> float:
        """Return the host's time of an event."""
        ...


@dataclass(frozen=True, slots=True)
class Heard:
    """A report as the tie sees it: its arrival, the event that it tells of (None: no new one), the turns up to it.

    link: number of the link that brought it.
    """

    arrival_s: float
    event_s: float | None
    turns: int
    link: int


class CscSensor:
    """One sensor: its counts, its clock, the tie of that clock, and what is waiting for a believable time."""

    def __init__(self, role: str, placements: Sequence[Placement] | None) -> None:
        self.role = role
        self.clock = EventClock()
        self.shafts: dict[tuple[str, bool], ShaftCount] = {}
        self.window = TieWindow()
        self.epoch = 0
        self.heard_s = -math.inf
        self.linked = False
        self.last_event_s: dict[str, float] = {}
        self.own_zero_s: float | None = None  # single sensor: host time of the own clock's zero
        self._placements = placements
        self._used: tuple[float, float] | None = None
        self._worst_shift_s = 0.0
        self._past_u_s = 0.0  # the worst of earlier epochs
        self._written: list[tuple[float, float]] = []
        self.links = 0
        self.heard: list[list[Heard]] = [[]]  # by epoch, where it is collected

    def counts(self, measurement: Measurement) -> list[tuple[str, bool, Count]]:
        """The counts that this role uses: (channel, is the crank's, count)."""
        wheel, crank = measurement.wheel, measurement.crank
        if self.role == "wf":
            pairs = [("w", False, wheel), ("f", True, crank)]
        elif wheel is not None:
            pairs = [(self.role, False, wheel)]
        else:
            pairs = [(self.role, True, crank)]
        return [(channel, is_crank, count) for channel, is_crank, count in pairs if count is not None]

    def follow(
        self, channel: str, count: Count, host_s: float, *, is_crank: bool
    ) -> Turned | Unplaced | Restarted | None:
        """Take a count that arrived at `host_s`; None when nothing passed."""
        shaft = self.shafts.setdefault((channel, is_crank), ShaftCount(self.clock, crank=is_crank))
        step = shaft.follow(count, host_s)
        if isinstance(step, Turned):
            event_s = step.event_ticks / TICKS_PER_S
            first = channel not in self.last_event_s
            self.last_event_s[channel] = event_s
            self.window.add(event_s, host_s, 0 if first else step.revolutions)
            return step
        return step if isinstance(step, Unplaced | Restarted) else None

    def begin_anew(self) -> None:
        """Forget the tie if the sensor's clock may be another one now."""
        if self.clock.epoch == self.epoch:
            return
        self._past_u_s = max(self._past_u_s, self.uncertainty_s() or 0.0)
        self.epoch = self.clock.epoch
        self.window, self._used, self._written, self._worst_shift_s = TieWindow(), None, [], 0.0
        self.heard.append([])
        self.last_event_s.clear()
        self.own_zero_s = None

    def on_host(self, event_s: float) -> float:
        """Host time of an event, by a tie that changes gently; call in order of time."""
        if self._placements is not None:
            return self._placements[self.epoch].host_s(event_s)
        tie = self.window.tie()
        assert tie is not None
        target_s = tie.host_s(event_s)
        if self._used is not None:
            last_event_s, last_host_s = self._used
            passed_s = event_s - last_event_s
            even_s = last_host_s + passed_s * (1 + tie.drift)
            leeway_s = _SLEW * max(0.0, passed_s)
            target_s = min(max(target_s, even_s - leeway_s), even_s + leeway_s)
        self._used = (event_s, target_s)
        if not self._written or event_s - self._written[-1][0] >= 1.0:
            self._written.append((event_s, target_s))
        return target_s

    def uncertainty_s(self) -> float | None:
        """Standard uncertainty of this sensor's times on the host's clock, None before its first turn."""
        if self._placements is not None:
            return max((placement.u_s for placement in self._placements), default=None)
        tie = self.window.tie()
        if tie is None:
            return self._past_u_s or None
        self._settle(tie)
        return max(self._past_u_s, math.hypot(tie.u_s, self._worst_shift_s))

    def _settle(self, tie: Tie) -> None:
        """Take into the uncertainty how far written lines stand from where the tie of now would put them."""
        near = [(e, h) for e, h in self._written if e >= tie.at_s - 600.0]
        shift = max((abs(h - tie.host_s(e)) for e, h in near), default=0.0)
        self._worst_shift_s = max(self._worst_shift_s, shift) if len(near) < len(self._written) else shift
        if len(self._written) > 1200:
            del self._written[:600]
