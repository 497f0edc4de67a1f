"""What a source of pulses says, whatever it is made of: bytes came, it was lost, it is back.

A source yields events for as long as it has something to say; the iterator ends when nothing more can come
(standard input's end, a simulated board's end). Bytes are handed on as they came, in chunks of any size, each
stamped as soon as it was read. Every way to reach a board implements `Source`; who records needs no more.

The host's clock may be set while a recording runs (a time server's step, a hand). The board's clock is rated
by the host's, so bytes are stamped with a clock that cannot be set: unix time as it was when the program
began, run on evenly. What people read (`started`, `lost`, `resumed`) has the clock of the day.
"""

from __future__ import annotations

import time
from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import Final, Protocol

from whorlpulse.sources.files import SourceError

#: Runs on while the computer sleeps, where the system has such a clock.
_EVEN_CLOCK: Final = getattr(time, "CLOCK_BOOTTIME", getattr(time, "CLOCK_MONOTONIC", None))


def _even_s() -> float:
    return time.monotonic() if _EVEN_CLOCK is None else time.clock_gettime(_EVEN_CLOCK)


_UNIX_AT_ZERO_S: Final = time.time() - _even_s()


def even_unix_s() -> float:
    """Return unix seconds that never jump, whoever sets the host's clock while the program runs."""
    return _UNIX_AT_ZERO_S + _even_s()


class SourceUnavailable(SourceError):  # noqa: N818 - it is a state that a user can change, said as one
    """A source cannot be opened or was lost; the message is one line for the user: what, where, what to do."""


@dataclass(frozen=True, slots=True)
class Arrived:
    """Bytes, unaltered. at_s: monotonic seconds when they had been read; unix_s: `even_unix_s` then."""

    data: bytes
    at_s: float
    unix_s: float

    @staticmethod
    def now(data: bytes) -> Arrived:
        """Stamp bytes that have just been read."""
        return Arrived(data, time.monotonic(), even_unix_s())


@dataclass(frozen=True, slots=True)
class Connected:
    """The source can be heard, first or again. name: as it is shown to the user, on one line."""

    name: str
    at_s: float
    unix_s: float

    @staticmethod
    def now(name: str) -> Connected:
        """Stamp a connection that has just been made."""
        return Connected(name, time.monotonic(), time.time())


@dataclass(frozen=True, slots=True)
class Lost:
    """The source can no longer be heard, and it is being looked for. why: a few words, on one line."""

    why: str
    at_s: float
    unix_s: float

    @staticmethod
    def now(why: str) -> Lost:
        """Stamp a loss that has just been noticed."""
        return Lost(why, time.monotonic(), time.time())


Event = Arrived | Connected | Lost


class Source(Protocol):
    """A board or a sensor, reached in some way.

    name: as it is shown to the user. A source that cannot be opened at first raises SourceUnavailable from the
    iterator; once it was connected, a loss is an event and the source goes on trying. Closing the iterator
    (`aclose`, or cancelling the task that waits on it) releases the device.
    """

    @property
    def name(self) -> str:
        """How the source is shown to the user, on one line."""
        ...

    def events(self) -> AsyncIterator[Event]:
        """Yield what happens, in order of time, until nothing more can come."""
        ...

    async def send(self, data: bytes) -> None:
        """Hand bytes to the board; raises SourceUnavailable where that cannot be done."""
        ...
