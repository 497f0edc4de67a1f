"""A source heard and its log kept: what recording and the live view both do, in one event loop.

Forcing the file onto the disk runs in a thread, so that a slow disk keeps no pulse waiting.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Callable
from contextlib import aclosing
from dataclasses import dataclass
from typing import Any, cast

from whorlpulse.actions.live_figures import LiveFigures
from whorlpulse.actions.log_keeper import LogKeeper
from whorlpulse.sources.events import Arrived, Event, Source, SourceUnavailable
from whorlpulse.sources.logwriter import LogWriter


@dataclass(frozen=True)
class Habits:
    """How often things are done, in seconds. for_s: stop by itself after that time, None: go on.

    to_disk_s leaves a fifth of a second for the disk, so that no pulse is off it for more than a second.
    ask_s: how long a board may take until it has greeted; then it is asked to.
    """

    for_s: float | None = None
    to_disk_s: float = 0.8
    sync_s: float = 10.0
    show_s: float = 0.1
    ratio_s: float = 2.0
    ask_s: float = 2.5
    silent_s: float = 5.0
    answer_s: float = 5.0


class Listening:
    """One source, its figures and its log. `listen`, `to_disk` and `ask_greeting` run side by side, then `close`."""

    def __init__(self, source: Source, open_log: Callable[[], LogWriter], figures: LiveFigures, habits: Habits) -> None:
        """open_log: called when the source is first connected, so that a wrong source costs no old log."""
        self._source, self._figures, self._habits = source, figures, habits
        ties_itself = bool(getattr(source, "brings_sync", False))
        self.keeper = LogKeeper(open_log, figures, habits.sync_s, ties_itself=ties_itself)
        self.first_connected = asyncio.Event()
        self._syncing: asyncio.Future[None] | None = None

    async def listen(self, heard: Callable[[Event], None] | None = None) -> None:
        """Write what the source says until it has no more to say; heard: is told of each event once it is written.

        Raises SourceUnavailable if the source cannot be reached at first, LogStopped when the log cannot grow.
        """
        # a source is an asynchronous generator; closing it releases the device
        async with aclosing(cast("Any", self._source.events())) as events:
            async for event in events:
                self.keeper.take(event)
                if self.keeper.log is not None:
                    self.first_connected.set()
                if heard is not None:
                    heard(event)

    async def to_disk(self) -> None:
        """Force the log onto the disk again and again; a fault ends it (LogStopped)."""
        due_s = time.monotonic()
        while True:
            due_s = max(due_s + self._habits.to_disk_s, time.monotonic())
            await asyncio.sleep(due_s - time.monotonic())
            log = self.keeper.log
            if log is not None and log.dirty:
                self._syncing = asyncio.ensure_future(asyncio.to_thread(log.sync))
                await asyncio.shield(self._syncing)

    async def ask_greeting(self) -> None:
        """Ask the board what it is, once after each connection, unless it has said so by itself."""
        asked_after = -1
        while True:
            await asyncio.sleep(self._habits.ask_s)
            if self._figures.greeted:
                return
            if self.keeper.connected and asked_after != self.keeper.interruptions:
                asked_after = self.keeper.interruptions
                with contextlib.suppress(SourceUnavailable):
                    await self._source.send(b"hello\n")

    async def close(self) -> None:
        """Write what the source still holds back, and close the log, once nothing else runs any more."""
        if self._syncing is not None:  # the file must not be closed under the thread
            await asyncio.wait([self._syncing])
        self._take_remaining()
        if self.keeper.log is not None:
            self.keeper.log.close()

    def _take_remaining(self) -> None:
        """Write what a source still holds back: lines that waited for a better tie of its clock."""
        remaining = getattr(self._source, "remaining", None)
        rest = remaining() if remaining is not None and self.keeper.log is not None else b""
        if rest:
            self.keeper.take(Arrived(rest, time.monotonic(), time.time()))
