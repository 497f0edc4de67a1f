"""What a decoder says: one frozen message a line, and a gap where lines are missing.

Every message carries the number of its line, counted from 1, with empty lines counted too.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Pulse:
    """A pulse line. channel: one letter; tick: the board's raw count; seq: None where not given.

    count: how many pulses the line stands for; on channel `x` how many the board lost; 0 only on `k`.
    """

    line: int
    channel: str
    tick: int
    seq: int | None
    count: int


@dataclass(frozen=True, slots=True)
class Meta:
    """A `#` line. key is empty for a free comment (no colon); then value is the comment's text."""

    line: int
    key: str
    value: str


@dataclass(frozen=True, slots=True)
class Damaged:
    """A line that says nothing usable. cause: one of `grammar`'s; text: its start, escaped to ASCII."""

    line: int
    cause: str
    text: str


@dataclass(frozen=True, slots=True)
class Gap:
    """Lines are missing just before line `line`; lines is how many, 0 where the board started again."""

    line: int
    lines: int


Message = Pulse | Meta | Damaged | Gap
