"""Live rooms of sources that the test makes up, run to their end."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from windows import setup

from whorlpulse.actions.listening import Habits
from whorlpulse.actions.live_room import LiveRoom
from whorlpulse.actions.live_setup import WheelSetup
from whorlpulse.sources.events import Arrived, Connected, Event, Source, SourceUnavailable


class Told:
    """A source that says these chunks, `rest_s` apart, then stays silent for `holds_s`, then ends."""

    name = "told"

    def __init__(self, chunks: Sequence[bytes], *, rest_s: float = 0.0, holds_s: float = 0.0) -> None:
        self._chunks, self._rest_s, self._holds_s = chunks, rest_s, holds_s

    async def events(self) -> AsyncIterator[Event]:
        yield Connected.now(self.name)
        for chunk in self._chunks:
            await asyncio.sleep(self._rest_s)
            yield Arrived.now(chunk)
        await asyncio.sleep(self._holds_s)

    async def send(self, data: bytes) -> None:
        return


class Missing:
    """A source that cannot be reached, however often it is tried."""

    name = "missing"

    def __init__(self) -> None:
        self.tried = 0

    async def events(self) -> AsyncIterator[Event]:
        self.tried += 1
        raise SourceUnavailable("the port is not there: plug the board in")
        yield

    async def send(self, data: bytes) -> None:
        return


def wheel(source: Source, path: Path, number: int = 1, **more: Any) -> WheelSetup:
    """A wheel whose log is kept at `path`."""
    return replace(setup(), id=str(number), name=f"wheel {number}", source=source, path=path, **more)


def run_room(
    setups: Sequence[WheelSetup],
    while_it_runs: Callable[[LiveRoom], Awaitable[None]] | None = None,
    habits: Habits | None = None,
    within_s: float = 60.0,
) -> LiveRoom:
    """Run a room until its sources have ended, or `while_it_runs` is over; return it."""

    async def run() -> LiveRoom:
        room, stop = LiveRoom(setups, habits), asyncio.Event()

        async def beside() -> None:
            if while_it_runs is not None:
                await while_it_runs(room)
                stop.set()

        doing = asyncio.ensure_future(beside())
        try:
            async with asyncio.timeout(within_s):
                await room.run(stop)
        finally:
            room.close()
        await asyncio.wait_for(doing, 5.0)
        return room

    return asyncio.run(run())


def state(room: LiveRoom, number: int = 1) -> dict[str, Any]:
    """A wheel of the whole room's document."""
    found: dict[str, Any] = json.loads(room.whole())["wheels"][number - 1]
    return found
