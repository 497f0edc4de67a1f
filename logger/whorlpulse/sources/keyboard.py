"""Single keys from the terminal, each with its moment, without waiting for Return.

The terminal is put back as it was whatever happens. Where there is no terminal to listen to (a pipe, a job in
the background) there are no keys, and that is no error.
"""

from __future__ import annotations

import asyncio
import codecs
import contextlib
import os
import sys
import threading
import time
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass
from typing import Any, Final

RETURN: Final = "\n"
ERASE: Final = "\b"
ESCAPE: Final = "\x1b"
_SAME: Final = {"\r": RETURN, "\x7f": ERASE}
_REST_S: Final = 0.02


@dataclass(frozen=True, slots=True)
class Key:
    """A key: one character, RETURN, ERASE or ESCAPE. at_s: monotonic seconds when it had been read."""

    text: str
    at_s: float


def keys_can_be_heard(stream: Any = None) -> bool:
    """Say whether standard input is a terminal that this process may listen to."""
    stream = sys.stdin if stream is None else stream
    try:
        if stream is None or not stream.isatty():
            return False
        if os.name != "posix":
            return True
        # changing the terminal from the background would stop the process
        return os.tcgetpgrp(stream.fileno()) == os.getpgrp()
    except (OSError, ValueError):
        return False


@contextlib.contextmanager
def single_keys(descriptor: int = 0) -> Iterator[AsyncIterator[Key]]:
    """Give an iterator over the keys pressed while the block runs; must be used in a running event loop."""
    queue: asyncio.Queue[Key | None] = asyncio.Queue()
    if os.name == "posix":
        with _posix_keys(descriptor, queue):
            yield _until_end(queue)
    else:
        with _windows_keys(queue):
            yield _until_end(queue)


async def _until_end(queue: asyncio.Queue[Key | None]) -> AsyncIterator[Key]:
    while (key := await queue.get()) is not None:
        yield key


@contextlib.contextmanager
def _posix_keys(fd: int, queue: asyncio.Queue[Key | None]) -> Iterator[None]:
    import termios
    import tty

    loop = asyncio.get_running_loop()
    before = termios.tcgetattr(fd)
    splitter = KeySplitter()

    def readable() -> None:
        try:
            data = os.read(fd, 1024)
        except (BlockingIOError, InterruptedError):
            return
        except OSError:  # the terminal has gone
            data = b""
        if not data:
            loop.remove_reader(fd)
            queue.put_nowait(None)
        for text in splitter.feed(data):
            queue.put_nowait(Key(text, time.monotonic()))

    try:
        tty.setcbreak(fd, termios.TCSANOW)  # Ctrl-C still interrupts
        loop.add_reader(fd, readable)
        yield
    finally:
        loop.remove_reader(fd)
        with contextlib.suppress(termios.error, OSError):
            termios.tcsetattr(fd, termios.TCSANOW, before)


@contextlib.contextmanager
def _windows_keys(queue: asyncio.Queue[Key | None]) -> Iterator[None]:
    import msvcrt

    loop, stopped = asyncio.get_running_loop(), threading.Event()
    console: Any = msvcrt

    def listen() -> None:
        while not stopped.wait(_REST_S):
            while console.kbhit():
                text = console.getwch()
                if text in ("\x00", "\xe0"):  # a function or arrow key: its second half means nothing here
                    console.getwch()
                    continue
                with contextlib.suppress(RuntimeError):
                    loop.call_soon_threadsafe(queue.put_nowait, Key(_SAME.get(text, text), time.monotonic()))

    thread = threading.Thread(target=listen, daemon=True)
    thread.start()
    try:
        yield
    finally:
        stopped.set()


class KeySplitter:
    """Bytes of a terminal to keys: UTF-8 across chunks; an arrow or function key is no key here."""

    def __init__(self) -> None:
        self._decoder = codecs.getincrementaldecoder("utf-8")("replace")

    def feed(self, data: bytes) -> list[str]:
        """Return the keys that these bytes complete. A sequence is taken to come in one chunk."""
        text = self._decoder.decode(data)
        keys: list[str] = []
        i = 0
        while i < len(text):
            if text[i] == ESCAPE and i + 1 < len(text) and text[i + 1] in "[O":
                i += 2
                while i < len(text) and not ("@" <= text[i] <= "~"):
                    i += 1
                i += 1
                continue
            keys.append(_SAME.get(text[i], text[i]))
            i += 1
        return keys
