"""Tally: keys become taps, taps a ratio; and, where asked for, a pulse log that grows with every tap.

The keys with their moments, the log and the display are arguments, so that all of it runs without a terminal.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field
from typing import Final, Protocol

import numpy as np

from whorlpulse.estimators.tally import TapRatio, ratio_from_taps
from whorlpulse.wire import encode_pulse

END_KEYS: Final = ("q", "\x1b")
_TICK_HZ: Final = 1_000_000
_SEQ_BITS: Final = 16


class KeyPress(Protocol):
    """A key and its moment in seconds, as `sources.keyboard` gives them."""

    @property
    def text(self) -> str:
        """The character."""
        ...

    @property
    def at_s(self) -> float:
        """Seconds of a clock that never jumps."""
        ...


class Log(Protocol):
    """Where a pulse log is written: `sources.logwriter` has one."""

    def write(self, data: bytes) -> None:
        """Write whole lines."""
        ...

    def note(self, key: str, value: str) -> None:
        """Write a metadata line."""
        ...


@dataclass
class Taps:
    """The taps so far, in seconds since the first one."""

    wheel_s: list[float] = field(default_factory=list)
    flyer_s: list[float] = field(default_factory=list)
    first_at_s: float | None = None

    def take(self, letter: str, at_s: float) -> float:
        """Add a tap of w or f and return its time since the first tap."""
        if self.first_at_s is None:
            self.first_at_s = at_s
        t_s = at_s - self.first_at_s
        (self.wheel_s if letter == "w" else self.flyer_s).append(t_s)
        return t_s

    def ratio(self) -> TapRatio:
        """Return what the taps say so far."""
        return ratio_from_taps(np.array(self.wheel_s), np.array(self.flyer_s))


async def follow_keys(keys: AsyncIterator[KeyPress], taps: Taps, log: Log | None, show: Callable[[Taps], None]) -> None:
    """Take taps until q or Esc, or until no more keys can come; every other key is passed over.

    log: gets each tap at once, so that nothing is lost whatever ends the program. show: is called before the first
    key and after each tap.
    """
    if log is not None:
        for name, value in _header():
            log.note(name, value)
    show(taps)
    seq = 0
    async for key in keys:
        letter = key.text.lower()
        if letter in END_KEYS:
            return
        if letter not in ("w", "f"):
            continue
        t_s = taps.take(letter, key.at_s)
        if log is not None:
            log.write(encode_pulse(letter, round(t_s * _TICK_HZ), seq % 2**_SEQ_BITS))
        seq += 1
        show(taps)


def _header() -> list[tuple[str, str]]:
    return [
        ("format", "pulses 1"),
        ("tick_hz", str(_TICK_HZ)),
        ("tick_bits", "0"),
        ("seq_bits", str(_SEQ_BITS)),
        ("targets", "w=1 f=1"),
        ("note", "tapped by hand on two keys; each tap is late by a reaction time"),
    ]
