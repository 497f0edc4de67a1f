"""A board on a serial port, through pyserial: its bytes as they come, and its plug pulled and put back.

pyserial opens and sets up the port; the bytes are then read from its descriptor as soon as the event loop
sees them. Where there is no descriptor (Windows) a thread waits in a blocking read. A buffered reader with a
time-out would hold pulses back by tens of milliseconds, so there is none.
"""

from __future__ import annotations

import asyncio
import contextlib
import errno
import os
import threading
from typing import Any, Final

import serial

from whorlpulse.sources.events import Arrived, SourceUnavailable
from whorlpulse.sources.inbox import Inbox
from whorlpulse.sources.ports import come_back_as, permission_hint, port_identity
from whorlpulse.sources.reconnect import Backoff, Line, Reconnecting

BAUD: Final = 115_200
#: One read of a terminal device gives at most 4095 bytes; a driver may give more.
_READ_BYTES: Final = 1 << 16
#: Empty reads in a row, with the device still answering, after which it counts as gone all the same.
_EMPTY_READS: Final = 50
_REST_S: Final = 0.02
#: What a device that has gone away makes of a call: pyserial's own exception, or the plain one.
_FAULTS: Final = (OSError, serial.SerialException)


def open_serial(port: str, baud: int = BAUD, backoff: Backoff | None = None) -> Reconnecting:
    """Return the source for a port, not opened yet. port: as the system names it; baud: bits a second."""
    identity = port_identity(port)

    async def connect() -> Line:
        return await connect_port(come_back_as(port, identity), baud)

    return Reconnecting(f"serial:{port}", connect, backoff)


async def connect_port(port: str, baud: int) -> SerialLine:
    """Open a port for this process alone and listen to it; raises SourceUnavailable, one line."""
    opening = asyncio.get_running_loop().run_in_executor(None, _opened, port, baud)
    try:
        device = await asyncio.shield(opening)
    except asyncio.CancelledError:  # the thread cannot be stopped: what it opens is given back
        opening.add_done_callback(_give_back)
        raise
    except (*_FAULTS, ValueError) as fault:
        raise SourceUnavailable(_why_not_opened(port, baud, fault)) from fault
    return SerialLine(device, port)


class SerialLine:
    """An open port. Must be made and used in a running event loop."""

    def __init__(self, device: Any, port: str, *, threaded: bool = False) -> None:
        """threaded: read in a thread even where the descriptor could be watched."""
        self.name = f"serial:{port}"
        self._port = port
        self._device = device
        self._inbox = Inbox()
        self._loop = asyncio.get_running_loop()
        self._closed = threading.Event()
        self._empty = 0
        self._fd = None if threaded else _descriptor(device)
        self._paused = False
        self._thread: threading.Thread | None = None
        if self._fd is None:
            self._thread = threading.Thread(target=self._read_on, name=self.name, daemon=True)
            self._thread.start()
        else:
            self._loop.add_reader(self._fd, self._readable)

    async def receive(self) -> Arrived:
        """Return the next chunk; raises SourceUnavailable once the device is gone."""
        chunk = await self._inbox.take()
        if self._paused and not self._inbox.full and self._fd is not None and not self._closed.is_set():
            self._paused = False
            self._loop.add_reader(self._fd, self._readable)
        if chunk is None:
            raise SourceUnavailable("the port was closed")
        return chunk

    async def send(self, data: bytes) -> None:
        """Write bytes to the port, waiting for it in a thread; raises SourceUnavailable if it cannot be done."""
        try:
            await self._loop.run_in_executor(None, self._device.write, data)
        except _FAULTS as fault:
            raise SourceUnavailable(f"{self._port} takes no bytes: {_words(fault)}") from fault

    async def close(self) -> None:
        """Let go of the port; harmless when the device is gone."""
        self._stop()
        if self._thread is not None:
            with contextlib.suppress(*_FAULTS, AttributeError):
                self._device.cancel_read()
            await self._loop.run_in_executor(None, self._thread.join, 2.0)
        with contextlib.suppress(*_FAULTS):
            self._device.close()

    def _readable(self) -> None:
        """Take what the descriptor has; called by the event loop."""
        assert self._fd is not None
        try:
            data = os.read(self._fd, _READ_BYTES)
        except (BlockingIOError, InterruptedError):
            return
        except OSError as fault:
            self._gone(_words(fault))
            return
        if data:
            self._empty = 0
            self._inbox.put(Arrived.now(data))
            if self._inbox.full:
                self._paused = True
                self._loop.remove_reader(self._fd)
        else:
            self._nothing_there()

    def _nothing_there(self) -> None:
        """Tell a device that has gone from one that was only seemingly ready: ask it how much there is."""
        try:
            _ = self._device.in_waiting
        except _FAULTS as fault:
            self._gone(_words(fault))
            return
        self._empty += 1
        if self._empty > _EMPTY_READS:
            self._gone("it reports bytes and has none")
        elif self._fd is not None:  # not a busy loop, whatever the driver does
            self._loop.remove_reader(self._fd)
            self._loop.call_later(_REST_S, self._watch_again)

    def _watch_again(self) -> None:
        if self._fd is not None and not self._closed.is_set() and not self._paused:
            self._loop.add_reader(self._fd, self._readable)

    def _read_on(self) -> None:
        """Wait for bytes and hand them to the event loop; runs in the thread."""
        try:
            self._device.timeout = 0.25
            while not self._closed.is_set():
                data = self._device.read(1)
                if data:  # the first byte came: with it whatever else is there, without waiting
                    data += self._device.read(self._device.in_waiting)
                    self._hand_over(Arrived.now(data))
                while self._inbox.full and not self._closed.is_set():
                    self._closed.wait(_REST_S)
        except (*_FAULTS, TypeError) as fault:  # TypeError: pyserial, when closed meanwhile
            with contextlib.suppress(RuntimeError):  # the event loop has ended
                self._loop.call_soon_threadsafe(self._gone, _words(fault))

    def _hand_over(self, chunk: Arrived) -> None:
        with contextlib.suppress(RuntimeError):  # the event loop has ended
            self._loop.call_soon_threadsafe(self._inbox.put, chunk)

    def _gone(self, why: str) -> None:
        self._stop()
        self._inbox.end(SourceUnavailable(f"{self._port} is gone: {why}"))

    def _stop(self) -> None:
        if not self._closed.is_set():
            self._closed.set()
            if self._fd is not None:
                self._loop.remove_reader(self._fd)


def _opened(port: str, baud: int) -> Any:
    """Return the port, open for this process alone. pyserial raises its lines (DTR, RTS) where there are any."""
    device = serial.Serial(port, baud, timeout=0, write_timeout=1.0, exclusive=True if os.name == "posix" else None)
    # Some USB adapters hold bytes back for 16 ms unless told not to; others do not know the request.
    with contextlib.suppress(OSError, ValueError, NotImplementedError, AttributeError):
        device.set_low_latency_mode(True)
    return device


def _give_back(opening: asyncio.Future[Any]) -> None:
    if not opening.cancelled() and opening.exception() is None:
        with contextlib.suppress(*_FAULTS):
            opening.result().close()


def _descriptor(device: Any) -> int | None:
    """Return the descriptor that an event loop can watch, or None."""
    if os.name != "posix":
        return None
    try:
        return int(device.fileno())
    except (AttributeError, OSError, ValueError):
        return None


def _words(fault: BaseException) -> str:
    """Return a fault's own words, in lower case and on one line."""
    number = getattr(fault, "errno", None)
    text = os.strerror(number) if isinstance(number, int) else " ".join(str(fault).split())
    return text[:1].lower() + text[1:] or type(fault).__name__


def _why_not_opened(port: str, baud: int, fault: Exception) -> str:
    number = getattr(fault, "errno", None)
    text = str(fault)
    if number == errno.ENOENT or "FileNotFoundError" in text:
        return f"{port} is not there: plug the board in; `whorlpulse find` lists the ports"
    if "exclusively lock" in text or number == errno.EBUSY or "PermissionError(13" in text:
        return f"{port} is in use by another program: close that (another recording, a serial monitor) first"
    if number in (errno.EACCES, errno.EPERM):
        return f"{port} may not be opened: {permission_hint()}"
    if isinstance(fault, ValueError):
        return f"{port} cannot be set to {baud} baud: give a rate that the board uses, 115200 as a rule"
    if number == errno.ENOTTY or "Could not configure" in text:
        return f"{port} is not a serial port: `whorlpulse find` lists the ports"
    return f"{port} cannot be opened: {_words(fault)}: unplug the board, plug it in again and try once more"
