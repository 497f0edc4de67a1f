"""What the `#` lines of a log say: kept in order as they came, and read by the keys of format section 1.

A bad value of a known key is data: it is listed among the problems and the default (or the last good value)
holds. Only an unknown format stops the reading, because then nothing else can be trusted to mean what it
says.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from whorlpulse.wire.grammar import NUMBER_LIMIT, seq_bits_of

_WHOLE: Final = r"([0-9]{1,19})"
_FLOAT: Final = r"([+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)"
_FORMAT: Final = re.compile(r"pulses[ \t]+([0-9]+)")
#: From femtoseconds (the finest that logic analysers write) to a tick in a quarter of an hour: beyond it, seconds and
#: turns a second no longer stay numbers.
_SLOWEST_HZ: Final = 1e-3
_FASTEST_HZ: Final = 1e15
#: Three thousand years from 1970, either way.
_FARTHEST_S: Final = 1e11
#: As in the wheel file and in --targets.
_MOST_TARGETS: Final = 4096
_TARGET: Final = re.compile(r"([wfby])=([0-9]{1,6})")
_SYNC: Final = re.compile(rf"{_FLOAT}[ \t]+{_WHOLE}")
_LENGTH: Final = re.compile(rf"{_WHOLE}[ \t]+{_FLOAT}[ \t]*(.*)", re.DOTALL)
_MARK: Final = re.compile(rf"{_WHOLE}(?:[ \t]+(.*))?", re.DOTALL)


class LogError(ValueError):
    """The log cannot be read at all; the message is one line: what, where, what to do."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A `#` line: row is how many pulse rows stood before it, line its number; no key: a free comment."""

    row: int
    line: int
    key: str
    value: str


@dataclass(frozen=True, slots=True)
class Sync:
    """A `sync` line: at raw tick `tick` the host's clock showed unix_s seconds."""

    unix_s: float
    tick: int
    row: int


@dataclass(frozen=True, slots=True)
class LengthLine:
    """A `length` line, its unit still text: value and unit of what was drawn in since the one before.

    written: value and unit as they stand there, since the written digits tell how finely it was measured.
    """

    tick: int
    value: float
    unit: str
    row: int
    line: int
    written: str


@dataclass(frozen=True, slots=True)
class Mark:
    """A `mark` line: a note at raw tick `tick`."""

    tick: int
    text: str
    row: int


@dataclass(frozen=True, slots=True)
class Problem:
    """A known key whose value says nothing usable: why."""

    line: int
    key: str
    value: str
    why: str


def _one_each() -> Mapping[str, int]:
    return MappingProxyType({"w": 1, "f": 1, "b": 1, "y": 1})


@dataclass(frozen=True)
class Header:
    """The metadata of a log. roller is text with a unit, None where not given; so are lengths' units."""

    entries: tuple[Entry, ...] = ()
    format: int = 1
    tick_hz: float = 1_000_000.0
    tick_bits: int = 32
    seq_bits: int = 16
    targets: Mapping[str, int] = field(default_factory=_one_each)
    roller: str | None = None
    board: str | None = None
    started: str | None = None
    note: str | None = None
    syncs: tuple[Sync, ...] = ()
    lengths: tuple[LengthLine, ...] = ()
    marks: tuple[Mark, ...] = ()
    problems: tuple[Problem, ...] = ()

    @staticmethod
    def of(entries: Iterable[Entry]) -> Header:
        """Return the header that these lines make; raises LogError for an unknown format."""
        kept = tuple(entries)
        draft = _Draft()
        for entry in kept:
            draft.take(entry)
        return draft.header(kept)


class _Draft:
    """Collects values line by line; of single-valued keys the last good one wins."""

    def __init__(self) -> None:
        self.format_entry: Entry | None = None
        self.tick_hz, self.tick_bits, self.seq_bits = 1_000_000.0, 32, 16
        self.targets = dict(_one_each())
        self.texts: dict[str, str] = {}
        self.syncs: list[Sync] = []
        self.lengths: list[LengthLine] = []
        self.marks: list[Mark] = []
        self.problems: list[Problem] = []

    def take(self, entry: Entry) -> None:
        why: str | None = None
        match entry.key:
            case "format":
                self.format_entry = entry
            case "tick_hz":
                why = self._tick_hz(entry.value)
            case "tick_bits":
                why = self._tick_bits(entry.value)
            case "seq_bits":
                why = self._seq_bits(entry.value)
            case "targets":
                why = self._targets(entry.value)
            case "roller" | "board" | "started" | "note":
                self.texts[entry.key] = entry.value
            case "sync":
                why = self._sync(entry)
            case "length":
                why = self._length(entry)
            case "mark":
                why = self._mark(entry)
        if why is not None:
            self.problems.append(Problem(entry.line, entry.key, entry.value, why))

    def header(self, entries: tuple[Entry, ...]) -> Header:
        return Header(
            entries,
            _format_number(self.format_entry),
            self.tick_hz,
            self.tick_bits,
            self.seq_bits,
            MappingProxyType(self.targets),
            self.texts.get("roller"),
            self.texts.get("board"),
            self.texts.get("started"),
            self.texts.get("note"),
            tuple(self.syncs),
            tuple(self.lengths),
            tuple(self.marks),
            tuple(self.problems),
        )

    def _tick_hz(self, value: str) -> str | None:
        hertz = float(value) if re.fullmatch(_FLOAT, value) else math.nan
        if not _SLOWEST_HZ <= hertz <= _FASTEST_HZ:
            return "must be ticks per second, a number from 0.001 to 1e15"
        self.tick_hz = hertz
        return None

    def _tick_bits(self, value: str) -> str | None:
        if not re.fullmatch(r"[0-9]{1,2}", value) or int(value) > 64:
            return "must be a whole number from 0 to 64"
        # a counter of 63 bits or more does not come round within any log, and its span would not fit int64
        self.tick_bits = int(value) if int(value) < 63 else 0
        return None

    def _seq_bits(self, value: str) -> str | None:
        bits = seq_bits_of(value)
        if bits is None:
            return "must be a whole number from 0 to 62"
        self.seq_bits = bits
        return None

    def _targets(self, value: str) -> str | None:
        found = [_TARGET.fullmatch(word) for word in value.split()]
        pairs = [(match[1], int(match[2])) for match in found if match]
        if not pairs or len(pairs) < len(found) or not all(1 <= n <= _MOST_TARGETS for _, n in pairs):
            return "must be like w=1 f=2: a channel (w f b y), an equals sign, targets per turn, 1 to 4096"
        self.targets = dict(_one_each()) | dict(pairs)
        return None

    def _sync(self, entry: Entry) -> str | None:
        found = _SYNC.fullmatch(entry.value)
        if not found or not abs(float(found[1])) <= _FARTHEST_S or int(found[2]) >= NUMBER_LIMIT:
            return "must be unix seconds and a tick"
        self.syncs.append(Sync(float(found[1]), int(found[2]), entry.row))
        return None

    def _length(self, entry: Entry) -> str | None:
        found = _LENGTH.fullmatch(entry.value)
        if not found or not math.isfinite(float(found[2])) or int(found[1]) >= NUMBER_LIMIT:
            return "must be a tick, a number and a unit"
        value = float(found[2])
        if value < 0:
            return "a length cannot be below 0"
        if value and not found[3]:
            return "the length has no unit"
        self.lengths.append(
            LengthLine(int(found[1]), value, found[3], entry.row, entry.line, f"{found[2]} {found[3]}".strip())
        )
        return None

    def _mark(self, entry: Entry) -> str | None:
        found = _MARK.fullmatch(entry.value)
        if not found or int(found[1]) >= NUMBER_LIMIT:
            return "must be a tick and a text"
        self.marks.append(Mark(int(found[1]), found[2] or "", entry.row))
        return None


def _format_number(entry: Entry | None) -> int:
    if entry is None:
        return 1
    found = _FORMAT.fullmatch(entry.value)
    if not found or found[1] != "1":
        shown = entry.value[:40].encode("ascii", "backslashreplace").decode("ascii")
        raise LogError(
            f"line {entry.line}: the log's format is {shown!r}, and this version reads only 'pulses 1': "
            "use a newer whorlpulse, or correct the line if it is a slip"
        )
    return 1
