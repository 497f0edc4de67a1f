"""A source's events to lines of the log: the board's bytes first, then what the host has to add."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from math import inf
from typing import Final

from whorlpulse.actions.live_figures import LiveFigures
from whorlpulse.sources.events import Arrived, Connected, Event, Lost
from whorlpulse.sources.logwriter import LogWriter

#: Names and reasons are cut here, so that a line stays a line.
_LONGEST_TEXT: Final = 300
#: Bytes that come after so long a silence may have waited that long (the program or the computer slept): they tie no
#: clock. A second later everything that waited has been read.
_SLEPT_S: Final = 3.0
_AWAKE_S: Final = 1.0


class LogKeeper:
    """Keeps a log by the events of one source, and counts connections.

    A source may be made of two sensors, so more than one connection can be up. log: None until the first.
    began_s, heard_s: monotonic seconds of the first connection, and of the last bytes or connection.
    """

    def __init__(
        self, open_log: Callable[[], LogWriter], figures: LiveFigures, sync_s: float, *, ties_itself: bool = False
    ) -> None:
        """sync_s: how often the board's clock is tied to the host's; ties_itself: never, because the source does."""
        self._open_log, self._figures, self._sync_s, self._ties_itself = open_log, figures, sync_s, ties_itself
        self.log: LogWriter | None = None
        self.began_s: float | None = None
        self.heard_s = 0.0
        self.interruptions = 0
        self.why_lost = "looking for the source"
        self._up, self._missing = 0, 0
        self._heard_unix_s = inf  # of the last bytes since the last connection
        self._sync_due = (0.0, 0.0)  # monotonic and unix seconds; whichever comes first

    @property
    def connected(self) -> bool:
        """Whether all that was connected still is."""
        return self._up > 0 and self._missing == 0

    def take(self, event: Event) -> None:
        """Write what an event means. Raises LogStopped when the log cannot grow."""
        if isinstance(event, Arrived):
            self._arrived(event)
        elif isinstance(event, Connected):
            self._connected(event)
        else:
            self._lost(event)

    def _arrived(self, event: Arrived) -> None:
        log = self.log
        if log is None:
            raise RuntimeError("a source says Connected before its first bytes")
        log.write(event.data)
        if max(event.at_s - self.heard_s, event.unix_s - self._heard_unix_s) > _SLEPT_S:
            self._sync_due = (event.at_s + _AWAKE_S, event.unix_s + _AWAKE_S)
        self.heard_s, self._heard_unix_s = event.at_s, event.unix_s
        before = self._figures.last
        self._figures.take(event.data, event.at_s, event.unix_s)
        last = self._figures.last
        if last is not before and last is not None and self._sync_is_due(event):
            log.note("sync", f"{last.unix_s:.6f} {last.tick}")
            self._sync_due = (event.at_s + self._sync_s, event.unix_s + self._sync_s)

    def _sync_is_due(self, event: Arrived) -> bool:
        if self._ties_itself or self._figures.brings_sync:
            return False  # a source that ties its clock itself knows better
        return event.at_s >= self._sync_due[0] or event.unix_s >= self._sync_due[1]

    def _connected(self, event: Connected) -> None:
        if self.log is None:
            self.log = self._open_log()
            self.began_s = event.at_s
            self.log.note("started", rfc3339(event.unix_s))
        if self._missing:
            self._missing -= 1
            self.log.note("resumed", f"{rfc3339(event.unix_s)} {_one_line(event.name)}".rstrip())
        else:
            self.log.note("source", _one_line(event.name))
        self._up += 1
        self.heard_s, self._heard_unix_s = event.at_s, inf
        self._sync_due = (0.0, 0.0)  # the board may have begun anew: tie its clock again at once

    def _lost(self, event: Lost) -> None:
        if self.log is None:
            return
        end = self.log.end_line()
        if end:  # the figures see what the log has
            self._figures.take(end, event.at_s, event.unix_s)
        self.why_lost = _one_line(event.why)
        self.log.note("lost", f"{rfc3339(event.unix_s)} {self.why_lost}".rstrip())
        self._up -= 1
        self._missing += 1
        self.interruptions += 1


def rfc3339(unix_s: float) -> str:
    """Return a moment as RFC 3339 with the host's offset from UTC, to the millisecond."""
    return datetime.fromtimestamp(unix_s).astimezone().isoformat(timespec="milliseconds")


def _one_line(text: str) -> str:
    return " ".join(text.split())[:_LONGEST_TEXT].rstrip()
