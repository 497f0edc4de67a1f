"""A folder tree of pulse logs: which logs are there, and the bytes of each with its wheel and plan file."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Final

from whorlpulse.findings.catalogue.gather import ERRORS
from whorlpulse.sources.files import SourceError, log_blocks, read_bytes, shown

_ENDING: Final = ".pulses"
#: A day of spinning at a hundred pulses a second is an eighth of this.
LARGEST_LOG: Final = 1 << 30
_NEIGHBOURS: Final = ("wheel.toml", "plan.toml")


@dataclass(frozen=True)
class LogPlace:
    """One log: folder, and its path below that, with `/`."""

    folder: str
    log: str

    @property
    def name(self) -> str:
        """Its name in a table: as text, whatever bytes the disk has."""
        return self.log.encode("utf-8", "backslashreplace").decode()

    @property
    def path(self) -> Path:
        """Where it is."""
        return Path(self.folder) / self.log

    def beside(self, name: str) -> Path | None:
        """Return the file of that name beside the log, None where there is none."""
        near = self.path.with_name(name)
        return near if near.is_file() else None


@dataclass(frozen=True)
class LogFiles:
    """The bytes of one log, and of the wheel.toml and plan.toml beside it; None where there is no such file."""

    log: str
    data: bytes
    wheel: bytes | None = None
    plan: bytes | None = None

    def content(self) -> str:
        """Return the digest of all three."""
        return _joined(sha256(self.data).digest(), self.wheel, self.plan)


@dataclass(frozen=True)
class Found:
    """What is below a folder. logs: in the order of their names. shut: folders that could not be looked into."""

    logs: tuple[LogPlace, ...]
    shut: tuple[str, ...]


def logs_below(folder: str | Path) -> Found:
    """Return all logs below a folder, whatever the depth; links to folders are not followed.

    SourceError when it is no folder, or has no logs.
    """
    top = Path(folder)
    if not top.is_dir():
        raise SourceError(ERRORS["no-folder"].format(folder=shown(folder)))
    shut: list[str] = []
    names = sorted(_walked(top, shut))
    if not names and not shut:
        raise SourceError(ERRORS["no-logs"].format(folder=shown(folder)))
    return Found(tuple(LogPlace(str(top), name) for name in names), tuple(sorted(shut)))


def files_of(place: LogPlace) -> LogFiles:
    """Return the bytes of a log and its neighbours; SourceError, one line, when one can't be read."""
    data = bytearray()
    for block in log_blocks(place.path)():
        data += block
        if len(data) > LARGEST_LOG:
            raise SourceError(ERRORS["too-large"].format(megabytes=LARGEST_LOG >> 20))
    return LogFiles(place.name, bytes(data), *_neighbours(place))


def content_of(place: LogPlace) -> str | None:
    """Return the digest of a log and its neighbours as `LogFiles.content` has it; None when one can't be read."""
    try:
        digest = sha256()
        for block in log_blocks(place.path)():
            digest.update(block)
        return _joined(digest.digest(), *_neighbours(place))
    except SourceError:
        return None


def _neighbours(place: LogPlace) -> tuple[bytes | None, bytes | None]:
    wheel, plan = (read_bytes(near) if (near := place.beside(name)) else None for name in _NEIGHBOURS)
    return wheel, plan


def _joined(log: bytes, *others: bytes | None) -> str:
    """Digest of digests, so that no two different sets of files look alike; an absent file is not an empty one."""
    parts = [b"\0" if data is None else b"\1" + sha256(data).digest() for data in others]
    return sha256(log + b"".join(parts)).hexdigest()


def _walked(top: Path, shut: list[str]) -> Iterator[str]:
    def closed(fault: OSError) -> None:
        shut.append(Path(fault.filename or top).relative_to(top).as_posix())

    for where, folders, names in os.walk(top, onerror=closed):
        folders.sort()
        for name in names:
            path = Path(where) / name
            # a pipe or a device would be waited for; only what is a file is a log
            if name.endswith(_ENDING) and path.is_file():
                yield path.relative_to(top).as_posix()
