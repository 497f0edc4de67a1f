"""A bar on standard error for work that takes more than a second, where someone is looking."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from threading import Event, Thread
from types import TracebackType
from typing import Final

_WAIT_S: Final = 1.0
_EVERY_S: Final = 0.2
_WIDTH: Final = 30


class Progress:
    """While it is open and standard error is a terminal, shows `what` and, where known, how much is done.

    done: set it to a fraction from 0 to 1; None means that nobody knows.
    """

    def __init__(self, what: str) -> None:
        self.done: float | None = None
        self._what = what
        self._ended = Event()
        self._shown = False
        self._thread = Thread(target=self._show, daemon=True) if sys.stderr.isatty() else None

    def __enter__(self) -> Progress:
        if self._thread is not None:
            self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        self._ended.set()
        if self._thread is not None:
            self._thread.join()
        if self._shown:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()

    def _show(self) -> None:
        seconds = _WAIT_S
        if self._ended.wait(_WAIT_S):
            return
        self._shown = True
        while True:
            sys.stderr.write(f"\r\x1b[K{self._what} {bar(self.done, seconds)}")
            sys.stderr.flush()
            if self._ended.wait(_EVERY_S):
                return
            seconds += _EVERY_S


def bar(done: float | None, seconds: float) -> str:
    """Return the bar's text for a fraction done, or the seconds gone where the fraction is not known."""
    if done is None:
        return f"{seconds:.0f} s"
    filled = round(_WIDTH * min(max(done, 0.0), 1.0))
    return f"[{'#' * filled}{'.' * (_WIDTH - filled)}] {100 * min(max(done, 0.0), 1.0):3.0f} %"


def followed(blocks: Callable[[], Iterator[bytes]], path: str, progress: Progress) -> Callable[[], Iterable[bytes]]:
    """Return blocks that tell `progress` how much of the file at `path` has been read."""
    size = Path(path).stat().st_size if Path(path).is_file() else 0

    def counted() -> Iterator[bytes]:
        read = 0
        for block in blocks():
            read += len(block)
            progress.done = read / size if size else None
            yield block

    return counted
