r"""The log file while it grows: the board's bytes as they came, the host's lines only between whole lines.

What arrives is handed to the operating system at once, so nothing is lost when this process dies, and forced
onto the disk by `sync`, so that a power cut costs what came since. Nothing that was written is ever touched
again; a log that somebody deletes meanwhile is put back.
"""

from __future__ import annotations

import contextlib
import errno
import os
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Final

from whorlpulse.sources.files import SourceError, reason, shown
from whorlpulse.sources.put_back import OPEN_FLAGS, deleted, put_back
from whorlpulse.wire import Damaged, Decoder, Meta, Pulse, encode_meta
from whorlpulse.wire.grammar import LINE_LIMIT

#: What ends a torn line that could be taken for a whole one.
TORN_MARK: Final = b" (torn)"
_NO_ROOM: Final = (errno.ENOSPC, errno.EFBIG, errno.EDQUOT)


class LogStopped(SourceError):  # noqa: N818 - what was written is good: the log has stopped, not failed
    """The log cannot be written any further; what was written until then stays. One line for the user."""


class LogWriter:
    """A log that is being recorded. Made, written and closed by one thread; `sync` may run in another."""

    def __init__(self, path: str | Path, *, replace: bool = False, sync: Callable[[int], None] = os.fsync) -> None:
        """Create the file, held by this process alone; raises SourceError, as `refuse_to_overwrite` does.

        replace: an older file of the name is removed, unless it is being recorded to. sync: forces a
        descriptor's file onto the disk.
        """
        self.path = Path(path)
        self._sync = sync
        refuse_to_overwrite(path, replace=replace)
        try:
            if replace:
                _remove_unless_held(self.path)
            self._fd = os.open(self.path, OPEN_FLAGS, 0o666)
        except FileExistsError:
            raise _exists(path) from None
        except OSError as fault:
            raise SourceError(
                f"{shown(path)} cannot be written: {reason(fault)}: check the folder and the room on the disk"
            ) from fault
        _hold(self._fd)
        self._tail = bytearray()  # of the last line, while it has no LF; its start is enough
        self._notes: list[bytes] = []
        self._written = self._synced = 0
        self._writing = threading.Lock()  # a log is put back by the thread that forces it onto the disk
        _sync_folder(self.path.parent)

    @property
    def dirty(self) -> bool:
        """Whether something was written that may not be on the disk yet, or that has lost its name."""
        return self._written > self._synced or (self._fd >= 0 and deleted(self._fd))

    def write(self, data: bytes) -> None:
        """Write what the board sent; the host's lines that wait go in at the first end of a line."""
        cut = data.find(b"\n") + 1
        if self._notes and cut:
            notes, self._notes = self._notes, []
            self._put(data[:cut] + b"".join(notes))
            data = data[cut:]
            self._tail.clear()
        self._put(data)
        self._remember(data)

    def note(self, key: str, value: str) -> None:
        """Write a host's line; inside a line of the board's it waits for that line's end.

        Raises ValueError for what would not read back.
        """
        line = encode_meta(key, value)
        if self._tail:
            self._notes.append(line)
        else:
            self._put(line)

    def end_line(self) -> bytes:
        """End a line that will never be completed, and return what was put in for that.

        A fragment that is no valid line is ended by LF. One that could be taken for a line with a wrong value
        (a number cut short, where there is no checksum) is marked first, so that it counts as damaged.
        """
        if not self._tail:
            return b""
        end = (TORN_MARK if _could_mislead(bytes(self._tail)) else b"") + b"\n"
        self._put(end + b"".join(self._notes))
        self._notes.clear()
        self._tail.clear()
        return end

    def sync(self) -> None:
        """Force what was written so far onto the disk; a log that was deleted is put back first."""
        self._put_back_if_deleted()
        written = self._written
        try:
            self._sync(self._fd)
        except OSError as fault:
            if fault.errno not in (errno.EINVAL, errno.ENOTSUP, errno.EROFS):  # a file that cannot be synced
                raise self._stopped(fault) from fault
        self._synced = written

    def close(self) -> None:
        """Force everything onto the disk and let go of the file; a last line without LF is left as it is.

        Host's lines that still wait are written all the same, after the torn line was ended.
        """
        if self._fd < 0:
            return
        try:
            if self._notes:
                self.end_line()
            self.sync()
        finally:
            os.close(self._fd)
            self._fd = -1

    def _put_back_if_deleted(self) -> None:
        with self._writing:
            if not deleted(self._fd):
                return
            try:
                place = put_back(self._fd, self.path, _hold)
            except OSError as fault:
                raise LogStopped(
                    f"{shown(self.path)} was deleted while it was recorded and cannot be put back: {reason(fault)}: "
                    "record on under another name"
                ) from fault
        _sync_folder(place.parent)
        if place != self.path:
            raise LogStopped(
                f"{shown(self.path)} was deleted while it was recorded, and another file is there now: what came until "
                f"then is in {shown(place)}: record on under another name"
            )

    def _put(self, data: bytes) -> None:
        rest = memoryview(data)
        try:
            with self._writing:
                while rest:
                    n = os.write(self._fd, rest)
                    self._written += n
                    rest = rest[n:]
        except OSError as fault:
            self._notes.clear()  # there is no room for them either
            raise self._stopped(fault) from fault

    def _remember(self, data: bytes) -> None:
        """Keep the start of the line that is not ended yet."""
        cut = data.rfind(b"\n") + 1
        if cut:
            self._tail.clear()
        self._tail += data[cut : cut + max(0, LINE_LIMIT + 2 - len(self._tail))]

    def _stopped(self, fault: OSError) -> LogStopped:
        if fault.errno in _NO_ROOM:
            why = "the disk is full (or the file may not grow)"
            todo = "make room, then record on under another name"
        else:
            why, todo = reason(fault), "check the disk, then record on under another name"
        return LogStopped(
            f"{shown(self.path)} cannot be written any further: {why}; what came until then is in it and can be "
            f"read: {todo}"
        )


def refuse_to_overwrite(path: str | Path, *, replace: bool = False) -> None:
    """Raise SourceError if a log must not be put there; to be asked before anything else is done."""
    place = Path(path)
    if str(path) == "-":
        raise SourceError("a log is written to a file: name one, for example wheel.pulses")
    if place.is_dir():
        raise SourceError(f"{shown(path)} is a directory: name a file to write")
    if not place.exists():
        if not place.parent.is_dir():
            raise SourceError(f"{shown(path)} cannot be written: its folder is not there: make it, or name another")
        return
    if not place.is_file():
        raise SourceError(f"{shown(path)} is no ordinary file: name another")
    if not replace:
        raise _exists(path)


def _exists(path: str | Path) -> SourceError:
    return SourceError(f"{shown(path)} exists already and is left as it is: name another file, or give --replace")


def _could_mislead(fragment: bytes) -> bool:
    """Say whether a fragment, ended by LF, would read as a line and yet perhaps not as the one that was meant."""
    messages = Decoder().feed(fragment + b"\n")
    if not messages or isinstance(messages[0], Damaged):
        return False
    if isinstance(messages[0], Pulse):
        return b"*" not in fragment
    return isinstance(messages[0], Meta)


def _remove_unless_held(path: Path) -> None:
    """Remove a file, unless another process is recording to it."""
    try:
        fd = os.open(path, os.O_RDONLY)
    except FileNotFoundError:
        return
    try:
        if not _hold(fd):
            raise SourceError(f"{shown(path)} is being recorded to: stop that recording, or name another file")
    finally:
        os.close(fd)
    path.unlink(missing_ok=True)


def _hold(fd: int) -> bool:
    """Mark a file as being recorded to; False if another process has. True where that cannot be known."""
    if os.name != "posix":
        return True
    import fcntl

    try:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # a file system without locks
        return True
    return True


def _sync_folder(folder: Path) -> None:
    """Force a new file's name onto the disk, where the system lets a folder be opened for that."""
    if os.name != "posix":
        return
    with contextlib.suppress(OSError):
        fd = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)
