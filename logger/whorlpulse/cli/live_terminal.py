"""A live view in the terminal: drawn by a thread, so that a terminal that stands still holds nothing up."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator
from contextlib import nullcontext
from typing import TYPE_CHECKING, Any, Final

from rich.console import Console
from rich.live import Live

from whorlpulse.actions.key_notes import KeyNotes
from whorlpulse.actions.live_acts import note_in_log
from whorlpulse.sources.keyboard import Key, keys_can_be_heard, single_keys
from whorlpulse.views.live_terminal import live_screen

if TYPE_CHECKING:
    from whorlpulse.actions.live_room import LiveRoom
    from whorlpulse.findings.live import WheelNow

_EVERY_S: Final = 0.2
_PATIENCE_S: Final = 0.5


async def shown_in_terminal(room: LiveRoom, stop: asyncio.Event) -> None:
    """Run the room and show it on standard output until it ends, `stop` is set or q is pressed."""
    console = Console()
    desk = _Desk(room, stop)
    hears = keys_can_be_heard()
    with single_keys() if hears else nullcontext(_no_keys()) as keys, _screen(console) as live:
        drawing = _Drawing(live)
        beside = [asyncio.ensure_future(desk.follow(keys)), asyncio.ensure_future(_draw(desk, drawing, console))]
        try:
            await room.run(stop)
        finally:
            for task in beside:
                task.cancel()
            await asyncio.gather(*beside, return_exceptions=True)
            drawing.end()


def _screen(console: Console) -> Live:
    return Live(console=console, auto_refresh=False, screen=console.is_terminal, transient=True)


async def _no_keys() -> AsyncIterator[Key]:
    await asyncio.Event().wait()
    yield Key("", 0.0)


async def _draw(desk: _Desk, drawing: _Drawing, console: Console) -> None:
    while True:
        if console.is_terminal:
            drawing.show(live_screen(desk.wheels(), desk.chosen, desk.asked, desk.said, console.width))
        await asyncio.sleep(_EVERY_S)


class _Desk:
    """The keys: which wheel they go to, and what is being typed."""

    def __init__(self, room: LiveRoom, stop: asyncio.Event) -> None:
        self._room, self._stop = room, stop
        self.chosen = next(iter(room.wheels))
        self.said: str | None = None
        self._notes: KeyNotes | None = None

    @property
    def asked(self) -> str | None:
        """What is asked for with what was typed, None when nothing is."""
        return self._notes.asked if self._notes is not None else None

    def wheels(self) -> list[WheelNow]:
        """The newest state of each wheel."""
        return [self._room.now(id) for id in self._room.wheels]

    async def follow(self, keys: AsyncIterator[Key]) -> None:
        """Follow the keys until there are no more."""
        async for key in keys:
            if self.asked is None and key.text in self._room.wheels:
                self.chosen, self._notes, self.said = key.text, None, None
            elif self.asked is None and key.text.lower() == "p":
                paused = self._room.now(self.chosen).state == "paused"
                self.said = await self._room.act(self.chosen, "resume" if paused else "pause", "")
            else:
                self._press(key)

    def _press(self, key: Key) -> None:
        wheel = self._room.wheels[self.chosen]
        if self._notes is None:
            self._notes = KeyNotes(wheel.setup.read_length, wheel.figures.tick_at)
        notes = self._notes
        note = notes.press(key)
        self.said = notes.says
        if note is not None:
            self.said = note_in_log(wheel, note.key, note.text, tick=note.tick) or notes.says
        if notes.stop:
            self._stop.set()


class _Drawing:
    """Draws the newest screen in a thread of its own; older ones are dropped."""

    def __init__(self, live: Live) -> None:
        self._live = live
        self._newest: Any = None
        self._change = threading.Condition()
        self._ended = False
        self._thread = threading.Thread(target=self._draw_on, name="screen", daemon=True)
        self._thread.start()

    def show(self, screen: Any) -> None:
        """Leave a screen to be drawn; never waits."""
        with self._change:
            self._newest = screen
            self._change.notify()

    def end(self) -> None:
        """End; waits at most half a second for a terminal that stands still."""
        with self._change:
            self._ended = True
            self._change.notify()
        self._thread.join(_PATIENCE_S)

    def _draw_on(self) -> None:
        try:
            while True:
                with self._change:
                    self._change.wait_for(lambda: self._ended or self._newest is not None)
                    newest, self._newest = self._newest, None
                    if self._ended:
                        return
                self._live.update(newest, refresh=True)
        except (OSError, ValueError):  # the terminal has gone: go on unseen
            return
