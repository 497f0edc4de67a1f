"""One sensor's reports of late, and the tie that they make now; no input or output."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from whorlpulse.wire.csc.clock_tie import Tie, envelope
from whorlpulse.wire.csc.hull import Point
from whorlpulse.wire.csc.pace import Pace

#: A shaft with less between two events is turning, not standing.
_TURNING_S: Final = 5.0
#: Reports come about as fast as events or faster.
_AS_FAST: Final = 0.95


@dataclass(slots=True)
class _Kept:
    """An event, the arrival of a report, and the report's number where its pace may tell when it was sent."""

    event_s: float
    arrival_s: float
    number: int | None


class TieWindow:
    """Collects a sensor's points over the last `window_s` seconds; of each `bin_s` only the best is kept."""

    def __init__(self, window_s: float = 600.0, bin_s: float = 0.2) -> None:
        """Start with no point."""
        self._window_s, self._bin_s = window_s, bin_s
        self._points: list[_Kept] = []
        self._not_yet: list[_Kept] = []  # events with the last report before them
        self._bin = -1
        self._event_s: float | None = None
        self._pace = Pace()
        self._number: int | None = None
        self._number_before: int | None = None
        self._reports = 0  # since the last event, this one's own among them
        self._intervals: tuple[float, int] = (0.0, 0)  # total time and turns between events, fading
        self._own_pace = False
        self._tie: Tie | None = None
        self._added = 0

    def __len__(self) -> int:
        return len(self._points)

    def report(self, arrival_s: float) -> None:
        """Take that a report arrived, whether or not it tells of an event; before `add`."""
        self._number_before = self._number
        self._number = self._pace.report(arrival_s)
        self._reports += 1

    def link_lost(self) -> None:
        """Take that the next report begins a new pace."""
        for point in self._points:
            point.arrival_s, point.number = self._sent_s(point), None
        self._not_yet.clear()
        self._pace, self._number = Pace(), None

    def add(self, event_s: float, arrival_s: float, turns: int = 0) -> None:
        """Take the event that the last report told of, and how many turns it tells of (0: not known).

        Several turns in one report, or reports without an event while the shaft turns, show a pace of its own.
        Events not later than the last one are passed over.
        """
        before_s, reports = self._event_s, self._reports
        self._reports = 0
        if before_s is not None and event_s <= before_s:
            return
        self._event_s = event_s
        if before_s is not None and turns:
            passed_s = event_s - before_s
            self._own_pace |= turns > 1 or (reports > 1 and passed_s < _TURNING_S)
            total, events = self._intervals
            if events > 100:
                total, events = total / 2, events // 2
            self._intervals = (total + passed_s, events + turns)
            if turns == 1 and self._number_before is not None:
                self._not_yet.append(_Kept(event_s, math.nan, self._number_before))
        self._keep(_Kept(event_s, arrival_s, self._number))

    def tie(self) -> Tie | None:
        """Return the tie by the points so far, at most a fiftieth of them too old; None without any."""
        if self._points and (self._tie is None or self._added > len(self._points) // 50):
            self._added = 0
            points = [(point.event_s, self._sent_s(point)) for point in self._points]
            self._tie = envelope(points, self._bounds(), self._longest_wait_s())
        return self._tie

    def _keep(self, new: _Kept) -> None:
        here = math.floor(new.event_s / self._bin_s)
        if here != self._bin:
            self._points.append(new)
            self._bin = here
        elif new.arrival_s - new.event_s < self._points[-1].arrival_s - self._points[-1].event_s:
            self._points[-1] = new
        for points in (self._points, self._not_yet):
            while points and new.event_s - points[0].event_s > self._window_s:
                del points[0]
        self._added += 1

    def _bounds(self) -> list[Point]:
        """Events with a moment at which they had not yet come.

        Known only where a pace says when reports were sent, and fair only where they come faster than events: else
        the few events that stand alone between two reports are those of long intervals.
        """
        (total, events), pace_s = self._intervals, self._pace.pace_s
        if not self._own_pace or pace_s is None or total < _AS_FAST * pace_s * events:
            return []
        return [(point.event_s, self._sent_s(point)) for point in self._not_yet]

    def _longest_wait_s(self) -> float:
        """How long an event may wait for its report as a rule: until the next event, or the next report."""
        total, events = self._intervals
        if not (self._own_pace and events):
            return 0.0
        pace_s = self._pace.pace_s
        return total / events if pace_s is None else min(total / events, pace_s)

    def _sent_s(self, point: _Kept) -> float:
        sent_s = self._pace.sent_s(point.number) if self._own_pace and point.number is not None else None
        return point.arrival_s if sent_s is None else sent_s
