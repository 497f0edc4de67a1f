"""Serves a room on a free port of this computer, with the settings of the product, in a thread of its own."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import uvicorn

from whorlpulse.live_page.access import Access
from whorlpulse.live_page.app import make_app
from whorlpulse.live_page.room import Room
from whorlpulse.live_page.serving import open_port, server_settings

#: For a browser without a window that asks nobody about itself.
CHROMIUM_ARGS = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
)


@dataclass(frozen=True)
class Served:
    """A running server: its port, its keys, and the server object of its thread."""

    port: int
    access: Access
    server: uvicorn.Server

    @property
    def origin(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def own_link(self) -> str:
        return self.access.own_link(self.port)

    @property
    def guest_link(self) -> str:
        link = self.access.guest_link("127.0.0.1", self.port)
        assert link is not None
        return link


@contextmanager
def serving(
    room: Room, access: Access | None = None, port: int = 0, clock: Callable[[], float] = time.monotonic
) -> Iterator[Served]:
    """Serve the room while the block lasts. clock: for the rates of acts and wrong keys."""
    access = access or Access.shared(["127.0.0.1"])
    opened = open_port(port, shared=False)
    port = opened.getsockname()[1]
    app = make_app(room, access, share_link=access.guest_link("127.0.0.1", port), clock=clock)
    server = uvicorn.Server(server_settings(app))
    thread = threading.Thread(target=lambda: asyncio.run(server.serve(sockets=[opened])))
    thread.start()
    try:
        ends = time.monotonic() + 10.0
        while not server.started:
            assert time.monotonic() < ends, "the server did not start"
            time.sleep(0.01)
        yield Served(port, access, server)
    finally:
        server.should_exit = True
        thread.join(10.0)
        opened.close()
        assert not thread.is_alive(), "the server did not end"
