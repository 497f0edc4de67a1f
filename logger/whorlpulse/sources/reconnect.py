"""A source that comes back: when its line is lost it is looked for again, at longer and longer intervals.

What can be reached and lost is a `Line`; how to reach it is a function. So a pulled plug is survived in one
way for everything that has a plug. The first failure to connect is not survived: the user has probably
named something that is not there.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from dataclasses import dataclass
from typing import Protocol

from whorlpulse.sources.events import Arrived, Connected, Event, Lost, SourceUnavailable


class Line(Protocol):
    """A connection that is up."""

    @property
    def name(self) -> str:
        """How the connection is shown to the user."""
        ...

    async def receive(self) -> Arrived:
        """Return what came next; raises SourceUnavailable, with why, once nothing more can come."""
        ...

    async def send(self, data: bytes) -> None:
        """Hand bytes over; raises SourceUnavailable where that cannot be done."""
        ...

    async def close(self) -> None:
        """Release the device; never raises, and may be called when the device is gone."""
        ...


@dataclass(frozen=True)
class Backoff:
    """Waits between attempts in seconds: first_s, then each `factor` times the one before, to longest_s."""

    first_s: float = 0.05
    factor: float = 1.6
    longest_s: float = 2.0

    def waits_s(self) -> Iterator[float]:
        """Yield the waits, without end."""
        wait_s = self.first_s
        while True:
            yield wait_s
            wait_s = min(self.longest_s, wait_s * self.factor)


class Reconnecting:
    """A `Source` over lines that may be lost.

    connect: makes a line, or raises SourceUnavailable; it is called again after each loss. pause: waits so
    many seconds.
    """

    def __init__(
        self,
        name: str,
        connect: Callable[[], Awaitable[Line]],
        backoff: Backoff | None = None,
        pause: Callable[[float], Awaitable[object]] = asyncio.sleep,
    ) -> None:
        self.name = name
        self._connect = connect
        self._backoff = backoff or Backoff()
        self._pause = pause
        self._line: Line | None = None

    async def events(self) -> AsyncIterator[Event]:
        """Yield connections, chunks and losses for as long as anyone listens."""
        line = await self._connect()
        waits = self._backoff.waits_s()
        while True:
            self._line = line
            why = "closed"
            try:
                yield Connected.now(line.name)
                while True:
                    try:
                        chunk = await line.receive()
                    except SourceUnavailable as lost:
                        why = str(lost)
                        break
                    yield chunk
                    waits = self._backoff.waits_s()  # it works: the next loss is looked after quickly
            finally:
                self._line = None
                await line.close()
            yield Lost.now(why)
            line = await self._again(waits)

    async def send(self, data: bytes) -> None:
        """Hand bytes to the board; raises SourceUnavailable while there is no connection."""
        if self._line is None:
            raise SourceUnavailable(f"{self.name} is not connected: nothing can be sent to it now")
        await self._line.send(data)

    async def _again(self, waits: Iterator[float]) -> Line:
        while True:
            await self._pause(next(waits))
            try:
                return await self._connect()
            except SourceUnavailable:
                continue
