"""What became of every line: counted by kind, damage by cause with the first line numbers."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

#: How many line numbers are kept for each cause of damage.
FIRST_LINES: Final = 10


@dataclass(slots=True)
class Sightings:
    """How often something was seen, and the first line numbers of it (at most ten)."""

    count: int = 0
    lines: list[int] = field(default_factory=list)

    def add(self, line: int) -> None:
        """Count one more, at this line."""
        self.count += 1
        if len(self.lines) < FIRST_LINES:
            self.lines.append(line)


@dataclass(slots=True)
class Tally:
    """The fate of every line of a stream.

    total is pulses + keep_alives + overruns + metadata + empty + malformed + bad_checksum, and one more for a
    torn last line. pulses counts lines on the shafts' channels. malformed: by cause, repeated lines among
    them. lost: lines missing by the sequence numbers, without those that arrived damaged. restarted: how
    often the sequence began anew. torn_tail: the last line had no LF and could not be trusted.
    """

    total: int = 0
    pulses: int = 0
    keep_alives: int = 0
    overruns: int = 0
    metadata: int = 0
    empty: int = 0
    malformed: dict[str, Sightings] = field(default_factory=dict)
    bad_checksum: int = 0
    bad_checksum_lines: list[int] = field(default_factory=list)
    lost: int = 0
    restarted: int = 0
    torn_tail: bool = False

    @property
    def malformed_lines(self) -> int:
        """How many lines were malformed, all causes together."""
        return sum(seen.count for seen in self.malformed.values())

    def add_malformed(self, cause: str, line: int) -> None:
        """Count a malformed line."""
        self.malformed.setdefault(cause, Sightings()).add(line)

    def add_bad_checksum(self, line: int) -> None:
        """Count a line whose checksum was wrong."""
        self.bad_checksum += 1
        if len(self.bad_checksum_lines) < FIRST_LINES:
            self.bad_checksum_lines.append(line)

    def add_pulse_line(self, channel: str) -> None:
        """Count a usable pulse line by what its channel means."""
        if channel == "k":
            self.keep_alives += 1
        elif channel == "x":
            self.overruns += 1
        else:
            self.pulses += 1
