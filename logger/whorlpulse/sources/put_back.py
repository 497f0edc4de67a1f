"""A log that somebody deleted while it was being recorded, given its name again with all that is in it.

The operating system keeps a deleted file for as long as it is open, so nothing is lost if this is done in time.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from itertools import count
from pathlib import Path
from typing import Final

#: How a new log is opened: its end is written, and it can be read again to be put back.
OPEN_FLAGS: Final = os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_APPEND | getattr(os, "O_BINARY", 0)
_PIECE_BYTES: Final = 1 << 20


def deleted(fd: int) -> bool:
    """Say whether the open file has no name any more. A file that was moved still has one."""
    if os.name != "posix":  # elsewhere an open file cannot be deleted
        return False
    return os.fstat(fd).st_nlink == 0


def put_back(fd: int, path: Path, hold: Callable[[int], object]) -> Path:
    """Copy a deleted file under its name, make `fd` the new file's, and return the name that it has now.

    That is `path`, or one beside it where another file has taken the name meanwhile. hold: marks the new file as
    being recorded to. Raises OSError when it cannot be done; `fd` is then what it was. Nothing else may write to
    `fd` meanwhile.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    new, place = _new_file(path)
    try:
        hold(new)
        done = 0
        while piece := os.pread(fd, _PIECE_BYTES, done):
            rest = memoryview(piece)
            while rest:
                rest = rest[os.write(new, rest) :]
            done += len(piece)
        os.dup2(new, fd, inheritable=False)
    finally:
        os.close(new)
    return place


def _new_file(path: Path) -> tuple[int, Path]:
    for n in count():
        place = path if n == 0 else path.with_name(f"{path.stem}-kept{'' if n == 1 else n}{path.suffix}")
        try:
            return os.open(place, OPEN_FLAGS, 0o666), place
        except FileExistsError:
            continue
    raise AssertionError("count() ends never")
