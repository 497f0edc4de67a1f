"""How the page is served: uvicorn, with the patience that it has with clients.

A client that is slow with its request, that connects and asks nothing, or that stops reading its answer, is hung up;
none of them keeps the others waiting.
"""

from __future__ import annotations

import asyncio
import os
import socket
from typing import TYPE_CHECKING, Any, Final

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

if TYPE_CHECKING:
    from starlette.types import ASGIApp

#: A connection that has not asked something whole for so long is hung up.
REQUEST_S: Final = 10.0
#: So is one that takes nothing of its answer for so long.
STALL_S: Final = 10.0
#: Of connections that ask nothing, not yet or no more, so many may wait, and so many more for half a second: in a burst
#: the newest has yet to get its turn. The oldest go first.
MOST_WAITING: Final = 100
MOST_NEW: Final = 300
_NEW_S: Final = 0.5
#: So little of an answer waits in the system's buffers: what a slow viewer sees is not old.
_SEND_BUFFER: Final = 64 * 1024
_LARGEST_HEAD: Final = 16 * 1024


def open_port(port: int, *, shared: bool) -> socket.socket:
    """Return a socket for `uvicorn.Server.serve(sockets=[...])`.

    It is on this computer's own address only or, shared, on all of its addresses. port 0 takes any free one;
    `getsockname()[1]` tells which. Raises OSError when the port is taken or not allowed.
    """
    # said to be TCP, or asyncio would leave Nagle's waiting on, and each answer would come 40 ms late
    opened = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if os.name == "posix":  # a port of the last run may be taken again at once
            opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        opened.bind(("0.0.0.0" if shared else "127.0.0.1", port))
    except BaseException:
        opened.close()
        raise
    return opened


def room_addresses() -> list[str]:
    """Return this computer's address in the network that it would use, none if it has none. Sends nothing."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(("192.0.2.1", 9))  # an address for documentation (RFC 5737); UDP connects without a packet
        except OSError:
            return []
        address = str(asked.getsockname()[0])
    return [] if address.startswith("127.") or address == "0.0.0.0" else [address]


def server_settings(app: ASGIApp, *, log_level: str = "critical") -> uvicorn.Config:
    """Return how to serve the page on a socket of `open_port`.

    log_level: what of the server's own words reaches standard error; by default nothing that a stranger can cause.
    """
    return uvicorn.Config(
        app,
        http=PatientProtocol,
        ws="none",
        lifespan="off",
        log_config=None,
        log_level=log_level,
        access_log=False,  # a link's key stands in the request line
        proxy_headers=False,  # who is on this computer is told by the connection, never by a header
        server_header=False,
        backlog=128,
        timeout_keep_alive=5,
        timeout_graceful_shutdown=2,
        h11_max_incomplete_event_size=_LARGEST_HEAD,
    )


class PatientProtocol(H11Protocol):
    """HTTP/1.1 as uvicorn speaks it, with an end to patience."""

    waiting_since_s: float | None = None
    _late: asyncio.TimerHandle | None = None
    _stalled: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for a request."""
        super().connection_made(transport)
        _keep_little(transport.get_extra_info("socket"))
        self._watch()

    def data_received(self, data: bytes) -> None:
        """Take what came; a request that is whole is no longer waited for."""
        super().data_received(data)
        self._watch()

    def on_response_complete(self) -> None:
        """Wait for the next request."""
        super().on_response_complete()
        self._watch()

    def pause_writing(self) -> None:
        """Give a client that takes nothing a while."""
        super().pause_writing()
        if self._stalled is None:
            self._stalled = self.loop.call_later(STALL_S, self.transport.abort)

    def resume_writing(self) -> None:
        """Forget that it took nothing."""
        super().resume_writing()
        _cancel(self._stalled)
        self._stalled = None

    def connection_lost(self, exc: Exception | None) -> None:
        """End all waiting."""
        _cancel(self._late)
        _cancel(self._stalled)
        self.waiting_since_s = None
        super().connection_lost(exc)

    def _watch(self) -> None:
        asked = self.cycle is not None and not self.cycle.response_complete
        if asked or self.transport.is_closing():
            _cancel(self._late)
            self._late = None
            self.waiting_since_s = None
        elif self._late is None:  # not begun anew by a byte more: a head that trickles in is late too
            self._late = self.loop.call_later(REQUEST_S, self.transport.abort)
            self.waiting_since_s = self.loop.time()
            self._make_room()

    def _make_room(self) -> None:
        """Hang up on those that have waited longest where too many wait."""
        waiting = [c for c in self.connections if isinstance(c, PatientProtocol) and c.waiting_since_s is not None]
        if len(waiting) <= MOST_WAITING:
            return
        waiting.sort(key=_since)
        old_s = self.loop.time() - _NEW_S
        for over, longest in enumerate(waiting[:-MOST_WAITING]):
            if _since(longest) > old_s and len(waiting) - over <= MOST_WAITING + MOST_NEW:
                break
            longest.waiting_since_s = None  # it is gone only after the loop's next turn: not to be chosen twice
            longest.transport.abort()


def _since(waiting: PatientProtocol) -> float:
    return waiting.waiting_since_s or 0.0


def _cancel(timer: asyncio.TimerHandle | None) -> None:
    if timer is not None:
        timer.cancel()


def _keep_little(connection: Any) -> None:
    """Keep buffers small, and let the system give up on a client that vanished, where it can."""
    if connection is None or connection.family not in (socket.AF_INET, socket.AF_INET6):
        return
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, _SEND_BUFFER)
    if hasattr(socket, "TCP_USER_TIMEOUT"):
        connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, int(3 * STALL_S * 1000))
