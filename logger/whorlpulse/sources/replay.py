"""A log played again as if its board were sending it now: every byte as it stands there, when its tick says so.

Lines before the first pulse line come at once. The log's own `sync` lines go along, so the host must not add any.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable, Iterable, Iterator
from pathlib import Path
from typing import Final

from whorlpulse.sources.events import Arrived, Connected, Event, SourceUnavailable
from whorlpulse.sources.files import log_blocks, shown
from whorlpulse.wire import Decoder, Meta, Pulse

#: Lines whose time comes within this much are handed over together.
_TOGETHER_S: Final = 0.002
LARGEST_SPEED: Final = 10_000.0
#: A silence longer than this (a break in the recording) is not waited out.
_LONGEST_SILENCE_S: Final = 30.0


class ReplayedLog:
    """A `Source` that plays a log once. speed: how many of its seconds pass in one."""

    #: The log's clock is tied, or not, by its own lines.
    brings_sync = True

    def __init__(self, path: str | Path, speed: float = 1.0) -> None:
        """Raises SourceError for a file that cannot be read, SourceUnavailable for a speed that cannot be."""
        if not 0 < speed <= LARGEST_SPEED:
            raise SourceUnavailable(f"the speed {speed:g} cannot be: give a number above 0, up to {LARGEST_SPEED:g}")
        self.name = shown(Path(path).name)
        self.speed = speed
        self._blocks: Callable[[], Iterable[bytes]] = log_blocks(path, piecewise=True)

    async def events(self) -> AsyncIterator[Event]:
        """Yield the log's bytes, each line when its time has come."""
        began_s, began_unix_s = time.monotonic(), time.time()
        yield Connected(self.name, began_s, began_unix_s)
        for due_s, chunk in timed(self._blocks()):
            late_s = began_s + due_s / self.speed - time.monotonic()
            # even where it is late it lets the others run
            await asyncio.sleep(max(late_s, 0.0))
            yield Arrived(chunk, time.monotonic(), began_unix_s + due_s)

    async def send(self, data: bytes) -> None:
        """Take bytes and do nothing: a log knows no commands."""


def timed(blocks: Iterable[bytes]) -> Iterator[tuple[float, bytes]]:
    """Yield (seconds after the first pulse line, bytes) in order; lines of one moment together, none held back long."""
    decoder, clock = Decoder(), _Clock()
    due_s, waiting = 0.0, bytearray()
    for line in _lines(blocks):
        for message in decoder.feed(line):
            clock.take(message)
        if clock.due_s - due_s >= _TOGETHER_S:
            if waiting:
                yield due_s, bytes(waiting)
            due_s, waiting = clock.due_s, bytearray()
        waiting += line
    if waiting:
        yield due_s, bytes(waiting)


class _Clock:
    """The log's time, from its ticks."""

    def __init__(self) -> None:
        self.due_s = 0.0
        self._tick_hz, self._mask = 1e6, (1 << 32) - 1
        self._last: int | None = None

    def take(self, message: object) -> None:
        if isinstance(message, Meta):
            self._meta(message)
        elif isinstance(message, Pulse):
            step = (message.tick - self._last) & self._mask if self._last is not None else 0
            # far ahead is backwards: a board that began anew goes on from here
            if step <= self._mask // 2:
                self.due_s += min(step / self._tick_hz, _LONGEST_SILENCE_S)
            self._last = message.tick

    def _meta(self, message: Meta) -> None:
        try:
            if message.key == "tick_hz" and float(message.value) > 0:
                self._tick_hz = float(message.value)
            elif message.key == "tick_bits" and 0 <= int(message.value) <= 64:
                bits = int(message.value)
                self._mask = (1 << (bits if 0 < bits < 63 else 62)) - 1
        except ValueError:
            return


def _lines(blocks: Iterable[bytes]) -> Iterator[bytes]:
    """Yield lines with their LF, the last one perhaps without; a line longer than a block comes in pieces."""
    rest = b""
    for block in blocks:
        *whole, rest = (rest + block).split(b"\n")
        for line in whole:
            yield line + b"\n"
        if len(rest) > 1 << 18:
            yield rest
            rest = b""
    if rest:
        yield rest
