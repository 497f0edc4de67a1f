"""Files: the only code that opens them. What goes wrong is said in one line: what, where, what to do."""

from __future__ import annotations

import os
import sys
import tempfile
import weakref
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO, Final

from whorlpulse.sources.log_size import TooLong, bounded

#: Bytes of a log that are read at once.
BLOCK_BYTES: Final = 1 << 18

#: Standard input can be read once only; up to this much of it is kept in memory, more in a temporary file.
_KEPT_BYTES: Final = 1 << 25

STANDARD_INPUT: Final = "-"


class SourceError(Exception):
    """A file cannot be read or written; the message is one line for the user: what, where, what to do."""


def log_blocks(path: str | Path, *, piecewise: bool = False) -> Callable[[], Iterator[bytes]]:
    """Return a function that reads a log from its start, block by block, each time it is called.

    path: a file, or `-` for standard input; this and pipes are kept so that they can be gone through again.
    A missing file, a directory or a file that may not be read raises SourceError here; a reading fault does so
    while the blocks come, as does a log that is too long for this computer's memory. piecewise: the reader needs
    no memory for what it has read, so no log is too long.
    """
    blocks = _blocks_of(path)
    if piecewise:
        return blocks

    def those_that_fit() -> Iterator[bytes]:
        try:
            yield from bounded(blocks())
        except TooLong as too_long:
            name = "standard input" if str(path) == STANDARD_INPUT else shown(path)
            raise SourceError(f"{name} {too_long}") from too_long

    return those_that_fit


def _blocks_of(path: str | Path) -> Callable[[], Iterator[bytes]]:
    if str(path) == STANDARD_INPUT:
        return _Kept(sys.stdin.buffer).blocks
    file = _opened(path)
    if not Path(path).is_file():  # a pipe or a device: it must not be opened twice
        return _Kept(file, ours=True).blocks
    file.close()

    def blocks() -> Iterator[bytes]:
        with _opened(path) as file:
            try:
                while block := file.read(BLOCK_BYTES):
                    yield block
            except OSError as fault:
                raise _unreadable(path, fault) from fault

    return blocks


def read_bytes(path: str | Path, limit: int = 1 << 20) -> bytes:
    """Return a small file's bytes; one of more than `limit` bytes raises SourceError, as does any fault."""
    with _opened(path) as file:
        try:
            data = file.read(limit + 1)
        except OSError as fault:
            raise _unreadable(path, fault) from fault
    if len(data) > limit:
        raise SourceError(
            f"{shown(path)} is larger than {limit} bytes, too large for such a file: is it the right one?"
        )
    return data


def write_new(path: str | Path, data: bytes, *, replace: bool = False) -> None:
    """Write a file that appears whole or not at all: it is written beside its place and then put there.

    An existing file is left alone and raises SourceError, unless replace is True.
    """
    place = Path(path)
    if place.is_dir():
        raise SourceError(f"{shown(path)} is a directory: name a file to write")
    if place.exists() and not replace:
        raise SourceError(f"{shown(path)} exists already and is left as it is: name another file, or remove it")
    temporary: Path | None = None
    try:
        with tempfile.NamedTemporaryFile(dir=place.parent, prefix=f".{place.name}.", delete=False) as file:
            temporary = Path(file.name)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(_mode_of_new_files(place))
        _put(temporary, place, replace=replace)
    except FileExistsError:
        raise SourceError(
            f"{shown(path)} exists already and is left as it is: name another file, or remove it"
        ) from None
    except OSError as fault:
        raise SourceError(
            f"{shown(path)} cannot be written: {reason(fault)}: check the folder and the room on the disk"
        ) from fault
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)


def shown(path: str | Path) -> str:
    """Return a path as it is shown in a sentence: on one line, whatever its name has in it."""
    text = str(path)
    return text if text.isprintable() and text.strip() else repr(text)


def reason(fault: OSError) -> str:
    """Return the operating system's words for a fault, in lower case."""
    return (fault.strerror or type(fault).__name__).lower()


class _Kept:
    """A stream that can be read once, kept so that its blocks can be gone through again."""

    def __init__(self, stream: IO[bytes], *, ours: bool = False) -> None:
        """ours: close the stream when this is no longer needed."""
        self._stream = stream
        self._kept: IO[bytes] = tempfile.SpooledTemporaryFile(max_size=_KEPT_BYTES)  # noqa: SIM115
        self._ended = False
        weakref.finalize(self, self._kept.close)
        if ours:
            weakref.finalize(self, stream.close)

    def blocks(self) -> Iterator[bytes]:
        self._kept.seek(0)
        while block := self._kept.read(BLOCK_BYTES):
            yield block
        while not self._ended:
            try:
                block = self._stream.read(BLOCK_BYTES)
            except OSError as fault:
                raise _unreadable("standard input", fault) from fault
            self._ended = not block
            if block:
                self._kept.write(block)
                yield block


def _opened(path: str | Path) -> IO[bytes]:
    try:
        return open(path, "rb")
    except FileNotFoundError:
        raise SourceError(f"{shown(path)} is not there: check the name and the folder") from None
    except IsADirectoryError:
        inside = next(iter(sorted(p for p in Path(path).glob("*.pulses") if p.is_file())), None)
        example = f", for example {shown(inside)}" if inside is not None else ""
        raise SourceError(f"{shown(path)} is a directory: name a file in it{example}") from None
    except PermissionError:
        raise SourceError(f"{shown(path)} may not be read: check its permissions") from None
    except (OSError, ValueError) as fault:  # ValueError: a NUL in the name
        raise _unreadable(path, fault) from fault


def _unreadable(path: str | Path, fault: OSError | ValueError) -> SourceError:
    why = reason(fault) if isinstance(fault, OSError) else str(fault)
    return SourceError(f"{shown(path)} cannot be read: {why}: check the name and the disk")


def _put(temporary: Path, place: Path, *, replace: bool) -> None:
    """Move the file to its place; without replace, fail if something has appeared there meanwhile."""
    if replace:
        temporary.replace(place)
        return
    try:
        os.link(temporary, place)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        if place.exists():
            raise FileExistsError(place) from None
        temporary.rename(place)


def _mode_of_new_files(place: Path) -> int:
    """Return the permissions that an ordinary new file would have here, or those of the one replaced."""
    if place.exists():
        return place.stat().st_mode & 0o777
    umask = os.umask(0)
    os.umask(umask)
    return 0o666 & ~umask
