"""A board on a pseudo-terminal: plugged in and pulled at will, under one name as a system gives it."""

from __future__ import annotations

import os
import time
import tty
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from whorlpulse.wire import encode_pulse


def wait_for(what: Callable[[], bool], within_s: float = 5.0, *, saying: str = "it did not happen") -> None:
    """Wait until `what()` holds; fail after `within_s`."""
    end_s = time.monotonic() + within_s
    while not what():
        assert time.monotonic() < end_s, f"{saying} within {within_s:g} s"
        time.sleep(0.002)


class PtyBoard:
    """Its port is `path`, which is there only while the plug is in."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._master = -1

    @property
    def descriptor(self) -> int:
        """The board's own end of the line."""
        return self._master

    def plug(self) -> None:
        """Put the plug in; the port appears."""
        self._master, slave = os.openpty()
        tty.setraw(slave)  # as a board's port: nothing echoes, before the host has set it up too
        name = os.ttyname(slave)
        os.close(slave)
        waiting = self.path.with_suffix(".new")
        waiting.symlink_to(name)
        waiting.replace(self.path)

    def pull(self) -> None:
        """Pull the plug; the port vanishes, and with it what nobody had read."""
        if self._master >= 0:
            self.path.unlink()
            os.close(self._master)
            self._master = -1

    def say(self, data: bytes) -> None:
        """Send bytes; all of them, as long as somebody reads."""
        while data:
            data = data[os.write(self._master, data) :]

    def heard(self) -> bytes:
        """Return what the host has sent, none if it has not opened the port."""
        os.set_blocking(self._master, False)
        try:
            return os.read(self._master, 4096)
        except OSError:  # nothing there, or nobody (EIO)
            return b""
        finally:
            os.set_blocking(self._master, True)


@contextmanager
def plugged(path: Path) -> Iterator[PtyBoard]:
    """Give a board that is plugged in; it is pulled at the end."""
    board = PtyBoard(path)
    board.plug()
    try:
        yield board
    finally:
        board.pull()


def lines(n: int, first: int = 0, channel: str = "f") -> list[bytes]:
    """Return n pulse lines, a millisecond apart, numbered on from `first`."""
    return [encode_pulse(channel, 1000 * (first + i), (first + i) % 65536) for i in range(n)]
