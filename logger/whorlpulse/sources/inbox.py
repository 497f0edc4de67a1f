"""Between whoever reads a device and whoever waits for its bytes: chunks in order, and at last an end.

Everything here runs in the event loop's thread; a reading thread hands over by `loop.call_soon_threadsafe`.
"""

from __future__ import annotations

import asyncio
from collections import deque
from typing import Final

from whorlpulse.sources.events import Arrived

#: A reader should pause while more than this is waiting, so that a stalled disk cannot fill the memory.
FULL_BYTES: Final = 1 << 22


class Inbox:
    """Chunks that wait to be taken; `end` says why no more will come, None for an ordinary end."""

    def __init__(self) -> None:
        self._chunks: deque[Arrived] = deque()
        self._held = 0
        self._ended = False
        self._fault: Exception | None = None
        self._news = asyncio.Event()

    @property
    def full(self) -> bool:
        """Whether the reader should pause until some of it was taken."""
        return self._held > FULL_BYTES

    def put(self, chunk: Arrived) -> None:
        """Add a chunk behind the others."""
        self._chunks.append(chunk)
        self._held += len(chunk.data)
        self._news.set()

    def end(self, fault: Exception | None = None) -> None:
        """Say that no more will come. The first call counts."""
        if not self._ended:
            self._ended, self._fault = True, fault
            self._news.set()

    async def take(self) -> Arrived | None:
        """Return the next chunk, or, when all are taken, None at an ordinary end; a fault is raised then."""
        while not self._chunks:
            if self._ended:
                if self._fault is not None:
                    raise self._fault
                return None
            self._news.clear()
            await self._news.wait()
        chunk = self._chunks.popleft()
        self._held -= len(chunk.data)
        return chunk
