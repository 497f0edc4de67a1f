"""Pulse lines from standard input: what another program catches, or a file that is sent through.

A pipe or a terminal is watched by the event loop; what it cannot watch (a plain file, Windows) is read in a
thread. The end of the input is the end of the source.
"""

from __future__ import annotations

import asyncio
import contextlib
import os
import sys
import threading
from collections.abc import AsyncIterator, Callable
from typing import Final

from whorlpulse.sources.events import Arrived, Connected, Event, SourceUnavailable
from whorlpulse.sources.inbox import Inbox

_READ_BYTES: Final = 1 << 16
_REST_S: Final = 0.005


class StandardInput:
    """A `Source` over a descriptor that is already open, 0 by default."""

    name = "standard input"

    def __init__(self, descriptor: int | None = None) -> None:
        self._given = descriptor

    async def events(self) -> AsyncIterator[Event]:
        """Yield what comes until the input ends."""
        fd = self._given
        if fd is None:
            if sys.stdin is None or sys.stdin.closed:
                raise SourceUnavailable("standard input is closed: pipe the pulse lines in")
            fd = sys.stdin.fileno()
        inbox, stopped = Inbox(), threading.Event()
        release = _watch(fd, inbox, stopped)
        yield Connected.now(self.name)
        try:
            while (chunk := await inbox.take()) is not None:
                yield chunk
        finally:
            stopped.set()
            release()

    async def send(self, data: bytes) -> None:
        """Refuse: there is no way back through standard input."""
        raise SourceUnavailable("nothing can be sent to standard input")


class _Watch:
    """Reads a descriptor whenever the event loop says so, and rests while the inbox is full."""

    def __init__(self, fd: int, inbox: Inbox, stopped: threading.Event) -> None:
        self._fd, self._inbox, self._stopped = fd, inbox, stopped
        self._loop = asyncio.get_running_loop()
        self._loop.add_reader(fd, self._readable)

    def _readable(self) -> None:
        if self._inbox.full:
            self.release()
            self._loop.call_later(_REST_S, self._again)
            return
        try:
            data = os.read(self._fd, _READ_BYTES)
        except (BlockingIOError, InterruptedError):
            return
        except OSError as fault:
            self.release()
            self._inbox.end(_unreadable(fault))
            return
        if data:
            self._inbox.put(Arrived.now(data))
        else:
            self.release()
            self._inbox.end()

    def _again(self) -> None:
        if not self._stopped.is_set():
            self._loop.add_reader(self._fd, self._readable)

    def release(self) -> None:
        self._loop.remove_reader(self._fd)


def _watch(fd: int, inbox: Inbox, stopped: threading.Event) -> Callable[[], object]:
    try:
        return _Watch(fd, inbox, stopped).release
    except (PermissionError, NotImplementedError):  # a plain file cannot be waited for, nor can Windows wait
        threading.Thread(target=_read_on, args=(fd, inbox, stopped, asyncio.get_running_loop()), daemon=True).start()
        return lambda: None


def _read_on(fd: int, inbox: Inbox, stopped: threading.Event, loop: asyncio.AbstractEventLoop) -> None:
    """Read to the end and hand over to the event loop; runs in a thread."""
    with contextlib.suppress(RuntimeError):  # the event loop has ended
        while not stopped.is_set():
            if inbox.full:
                stopped.wait(_REST_S)
                continue
            try:
                data = os.read(fd, _READ_BYTES)
            except OSError as fault:
                loop.call_soon_threadsafe(inbox.end, _unreadable(fault))
                return
            if not data:
                loop.call_soon_threadsafe(inbox.end)
                return
            loop.call_soon_threadsafe(inbox.put, Arrived.now(data))


def _unreadable(fault: OSError) -> SourceUnavailable:
    return SourceUnavailable(f"standard input cannot be read: {(fault.strerror or 'unknown fault').lower()}")
