"""A log's CSC payloads, read once more: the same lines again, or lines tied with all points known.

While a log is recorded two sensors' clocks are tied by what has arrived so far. Afterwards every point is known,
those that follow an event included, and the ties are better from the first minute on. What the host wrote besides
(marks, lengths, the start) is taken over where it stood. No input or output.
"""

from __future__ import annotations

import bisect
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from whorlpulse.wire.csc.clock_tie import Tie
from whorlpulse.wire.csc.lines import ABOUT, ROLES, CscLines, Frame, Silence
from whorlpulse.wire.csc.sensor import Heard
from whorlpulse.wire.csc.tie_window import TieWindow
from whorlpulse.wire.encoder import encode_meta
from whorlpulse.wire.messages import Message, Meta

_RAW: Final = re.compile(r"([0-9]{1,12}(?:\.[0-9]{1,9})?) (w|f|wf) (-|(?:[0-9a-f]{2}){1,512})")
_LOST: Final = re.compile(r"([0-9]{1,12}(?:\.[0-9]{1,9})?) (w|f|wf)")
#: What `CscLines` writes itself, and writes anew.
_ANEW: Final = frozenset({"format", "tick_hz", "tick_bits", "seq_bits", "csc-doubt", "sync", "clock-tie"})
#: Clocks wander with temperature: a tie is made of the points this near, and made anew this often.
_REACH_S: Final = 300.0
_STEP_S: Final = 120.0


Event = Frame | Silence | Meta


def csc_events(messages: Iterable[Message]) -> list[Event]:
    """Return what a log's `csc-raw` and `csc-lost` lines hold, and the host's own lines, in order.

    Lines of these keys that hold nothing are passed over, and so is what was made of the notifications.
    """
    found: list[Event] = []
    for message in messages:
        if not isinstance(message, Meta) or message.key in _ANEW:
            continue
        if message.key == "csc-raw":
            if raw := _RAW.fullmatch(message.value):
                payload = b"" if raw[3] == "-" else bytes.fromhex(raw[3])
                found.append(Frame(float(raw[1]), raw[2], payload))
        elif message.key == "csc-lost":
            if lost := _LOST.fullmatch(message.value):
                found.append(Silence(float(lost[1]), lost[2]))
        elif message.key != "note" or ABOUT not in message.value:
            found.append(message)
    return found


def same_lines(events: Sequence[Event]) -> bytes:
    """Return the log that was written while these events came in."""
    lines = CscLines(roles_of(events))
    return lines.header() + _fed(lines, events)


def tied_afterwards(events: Sequence[Event]) -> bytes:
    """Return the log that these events make when every point of both clocks is known beforehand.

    For one sensor, whose own clock is the log's, this is what was recorded.
    """
    roles = roles_of(events)
    if len(roles) == 1:
        return same_lines(events)
    first = CscLines(roles, collect=True)
    _fed(first, events)
    placements = {role: [_fitted(heard) for heard in epochs] for role, epochs in first.heard().items()}
    note = "tied again with all notifications known"
    lines = CscLines(roles, note, placements)
    return lines.header() + _fed(lines, events)


def roles_of(events: Iterable[Event]) -> list[str]:
    """Return the roles that occur; raises ValueError when they are not those of one recording."""
    roles = sorted({event.role for event in events if not isinstance(event, Meta)}, key=ROLES.index)
    if not roles or (len(roles) > 1 and roles != ["w", "f"]):
        raise ValueError(f"csc-raw lines of {roles or 'no sensor'} are not one recording")
    return roles


@dataclass(frozen=True)
class _Course:
    """Ties at evenly spaced moments of a sensor's clock, and between them a straight passage from one to the next."""

    at_s: tuple[float, ...]
    ties: tuple[Tie, ...]

    @property
    def u_s(self) -> float:
        """Standard uncertainty in seconds: the quadratic mean of the ties'."""
        return math.sqrt(math.fsum(tie.u_s**2 for tie in self.ties) / len(self.ties)) if self.ties else 0.0

    def host_s(self, event_s: float) -> float:
        """Return the host's time of an event."""
        right = bisect.bisect(self.at_s, event_s)
        if right == 0 or right == len(self.at_s):
            return self.ties[min(right, len(self.at_s) - 1)].host_s(event_s)
        left_s, right_s = self.at_s[right - 1], self.at_s[right]
        part = (event_s - left_s) / (right_s - left_s)
        return (1 - part) * self.ties[right - 1].host_s(event_s) + part * self.ties[right].host_s(event_s)


def _fed(lines: CscLines, events: Iterable[Event]) -> bytes:
    out = []
    for event in events:
        match event:
            case Frame():
                out.append(lines.feed(event))
            case Silence():
                out.append(lines.silent(event))
            case Meta():
                out.append(_host_line(event))
    return b"".join([*out, lines.finish()])


def _host_line(line: Meta) -> bytes:
    """The line as it stood; signs that were no text take more room than what they stood for, where that is too much."""
    try:
        return encode_meta(line.key, line.value)
    except ValueError:
        plain = (text.encode("ascii", "replace").decode("ascii") for text in (line.key, line.value))
        return encode_meta(*plain)


def _fitted(heard: Sequence[Heard]) -> _Course:
    """The ties of one epoch; places on the sensor's clock are found by the events, which lie in order."""
    events = [(report.event_s, i) for i, report in enumerate(heard) if report.event_s is not None]
    if not events:
        return _Course((), ())
    first_s, span_s = events[0][0], events[-1][0] - events[0][0]
    pieces = max(1, round((span_s - 2 * _REACH_S) / _STEP_S)) if span_s > 2 * _REACH_S else 0
    centres = [first_s + _REACH_S + i * (span_s - 2 * _REACH_S) / pieces for i in range(pieces + 1)] if pieces else []
    ties = []
    for centre in centres or [first_s + span_s / 2]:
        reach = _REACH_S if centres else math.inf
        start = bisect.bisect_left(events, (centre - reach, -1))
        stop = bisect.bisect_right(events, (centre + reach, len(heard)))
        near = heard[events[start][1] : events[stop - 1][1] + 1] if stop > start else heard
        ties.append(_tie_of(near))
    return _Course(tuple(centres) or (first_s,), tuple(ties))


def _tie_of(heard: Sequence[Heard]) -> Tie:
    window = TieWindow(window_s=math.inf)
    link = heard[0].link
    for report in heard:
        if report.link != link:
            window.link_lost()
            link = report.link
        window.report(report.arrival_s)
        if report.event_s is not None:
            window.add(report.event_s, report.arrival_s, report.turns)
    tie = window.tie()
    assert tie is not None
    return tie
