"""The room's changes as server-sent events (WHATWG HTML, section 9.2), one stream a viewer.

A viewer that stops reading is never waited for: its stream waits alone, the room gives the others what is new, and
the connection is hung up by `serving` when it has taken nothing for a while.
"""

from __future__ import annotations

import asyncio
from typing import Final

from starlette.types import Receive, Scope, Send

from whorlpulse.live_page.answers import refusal
from whorlpulse.live_page.room import Room

#: The page says that the connection is lost when it has heard nothing for three times as long.
ALIVE_S: Final = 4.0
MOST_VIEWERS: Final = 200
_ALIVE: Final = b"event: alive\ndata: \n\n"


class Changes:
    """Streams a room's changes to at most so many viewers at once."""

    def __init__(self, room: Room, most: int = MOST_VIEWERS, alive_s: float = ALIVE_S) -> None:
        self._room, self._most, self._alive_s = room, most, alive_s
        self.viewers = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send, *, may_act: bool) -> None:
        """Answer one viewer until he leaves or the room ends. may_act: the page is told, to show what can be done."""
        if self.viewers >= self._most:
            full = refusal(503, "page-full")
            full.headers["retry-after"] = "10"
            await full(scope, receive, send)
            return
        self.viewers += 1
        try:
            headers = [(b"content-type", b"text/event-stream; charset=utf-8")]
            await send({"type": "http.response.start", "status": 200, "headers": headers})
            await self._until_first_ends(receive, send, may_act=may_act)
            await send({"type": "http.response.body", "body": b"", "more_body": False})
        finally:
            self.viewers -= 1

    async def _until_first_ends(self, receive: Receive, send: Send, *, may_act: bool) -> None:
        """Run what makes a stream side by side; the first that ends, by its end or its error, ends the others."""
        tasks = [
            asyncio.create_task(work)
            for work in (self._states(send, may_act=may_act), self._alive(send), _left(receive))
        ]
        try:
            done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
        for task in done:
            task.result()

    async def _states(self, send: Send, *, may_act: bool) -> None:
        await _event(send, b'event: you\ndata: {"may_act":%s}\n\n' % (b"true" if may_act else b"false"))
        async for text in self._room.changes():
            # between tokens JSON has line ends as blanks only, and inside texts never: a data line stays one line
            await _event(send, b"data: " + text.encode().replace(b"\r", b" ").replace(b"\n", b" ") + b"\n\n")

    async def _alive(self, send: Send) -> None:
        while True:
            await asyncio.sleep(self._alive_s)
            await _event(send, _ALIVE)


async def _event(send: Send, event: bytes) -> None:
    await send({"type": "http.response.body", "body": event, "more_body": True})


async def _left(receive: Receive) -> None:
    """Return when the viewer has gone."""
    while (await receive())["type"] != "http.disconnect":
        pass
