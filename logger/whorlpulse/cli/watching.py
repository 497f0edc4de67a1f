"""Standard error while a recording runs: one line drawn over and over, or plain lines now and then.

What is to be shown is left in one place and written by a thread: a terminal that stands still (Ctrl-S, a full
pipe) must not hold up the recording. Only the newest state is kept.
"""

from __future__ import annotations

import os
import shutil
import sys
import threading
import time
from collections.abc import Callable
from typing import Final

from whorlpulse.views.recording_line import Recording, live_line, progress_line

#: Where nobody sits at a terminal, a line is written so often.
_PLAIN_EVERY_S: Final = 10.0
#: How long the end waits for a terminal that stands still.
_PATIENCE_S: Final = 0.5
_ASCII: Final = str.maketrans({"±": "+-", "·": "-", "…": "..."})
_CLEAR: Final = "\r\x1b[K"


class Watcher:
    """Shows a recording on standard error. quiet: nothing at all."""

    def __init__(self, *, quiet: bool = False) -> None:
        self._live = not quiet and sys.stderr is not None and sys.stderr.isatty() and os.environ.get("TERM") != "dumb"
        self._quiet = quiet or sys.stderr is None
        self._newest: Recording | None = None
        self._lines: list[str] = []
        self._change = threading.Condition()
        self._ended = self._drawn = False
        self._thread = threading.Thread(target=self._write_on, name="watcher", daemon=True)
        if not self._quiet:
            self._thread.start()

    @property
    def show_or_none(self) -> Callable[[Recording], None] | None:
        """What a recorder calls with its state; None where nothing is to be shown."""
        return None if self._quiet else self.show

    def show(self, now: Recording) -> None:
        """Leave the newest state to be shown; never waits."""
        with self._change:
            self._newest = now
            self._change.notify()

    def say(self, line: str) -> None:
        """Leave a line that stays on the screen; never waits."""
        with self._change:
            self._lines.append(line)
            self._change.notify()

    def close(self) -> None:
        """Clear the live line and end; waits at most half a second for a terminal that stands still."""
        with self._change:
            self._ended = True
            self._change.notify()
        if self._thread.is_alive():
            self._thread.join(_PATIENCE_S)

    def _write_on(self) -> None:
        next_plain_s = time.monotonic() + _PLAIN_EVERY_S
        try:
            while True:
                with self._change:
                    self._change.wait_for(lambda: self._ended or self._newest is not None or bool(self._lines))
                    now, self._newest = self._newest, None
                    lines, self._lines = self._lines, []
                    ended = self._ended
                for line in lines:
                    self._write((_CLEAR if self._live else "") + line + "\n")
                if ended:
                    if self._drawn:
                        self._write(_CLEAR)
                    return
                if now is not None and self._live:
                    self._drawn = True
                    self._write(_CLEAR + live_line(now, shutil.get_terminal_size().columns))
                elif now is not None and time.monotonic() >= next_plain_s:
                    next_plain_s += _PLAIN_EVERY_S
                    self._write(progress_line(now) + "\n")
        except (OSError, ValueError):  # the terminal has gone: record on unseen
            return

    def _write(self, text: str) -> None:
        try:
            text.encode(sys.stderr.encoding or "ascii")
        except UnicodeEncodeError:
            text = text.translate(_ASCII).encode("ascii", "replace").decode("ascii")
        sys.stderr.write(text)
        sys.stderr.flush()
