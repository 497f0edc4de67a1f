"""The live page's server, in the event loop of the sources that it shows."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING, Final

import uvicorn

from whorlpulse.live_page.access import Access
from whorlpulse.live_page.app import make_app
from whorlpulse.live_page.serving import open_port, room_addresses, server_settings

from .exits import InputError

if TYPE_CHECKING:
    from whorlpulse.actions.live_room import LiveRoom

#: Connections that may wait to be accepted.
_WAITING: Final = 128
_LOOK_S: Final = 0.01


class _Server(uvicorn.Server):
    """Leaves signals to the program: Ctrl-C ends the sources first."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Take no signal."""
        yield


class Links:
    """own: opens the page on this computer; guests: lets the room look on, None if it cannot."""

    def __init__(self, access: Access, port: int, hosts: list[str]) -> None:
        self.own = access.own_link(port)
        self.guests = access.guest_link(hosts[0], port) if hosts else None


@asynccontextmanager
async def served(room: LiveRoom, port: int, *, share: bool) -> AsyncIterator[Links]:
    """Serve the room's page while the block runs; then end the viewers' streams and the server.

    Raises InputError for a port that cannot be had.
    """
    hosts = room_addresses() if share else []
    access = Access.shared(hosts) if hosts else Access.alone()
    try:
        opened = open_port(port, shared=bool(hosts))
        opened.listen(_WAITING)  # a port on which another listens shows itself here
    except OSError as taken:
        why = (taken.strerror or str(taken)).lower()
        raise InputError(f"--port {port} can't be had: {why}: name another, or 0 for any that is free") from None
    port = int(opened.getsockname()[1])
    links = Links(access, port, hosts)
    server = _Server(server_settings(make_app(room, access, share_link=links.guests)))
    serving = asyncio.ensure_future(server.serve(sockets=[opened]))
    while not (server.started or serving.done()):
        await asyncio.sleep(_LOOK_S)
    try:
        yield links
    finally:
        room.close()
        server.should_exit = True
        await asyncio.gather(serving, return_exceptions=True)
        opened.close()
