"""A recording that runs, in one line; its end, in a few. Every sentence that `record` says stands here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

#: Channels by letter, in the order in which they are shown.
CHANNELS: Final = {"w": "wheel", "f": "flyer", "b": "bobbin", "y": "roller"}

KEYS_HELP: Final = "keys: l a length drawn in · m a mark with a note · q stop"
ASK_LENGTH: Final = "length drawn in since the last, with unit (Esc leaves out): "
ASK_MARK: Final = "note for this moment (Esc leaves out): "
NO_TICK_YET: Final = "no pulse line has come yet, so there is nothing to tie that to"
LENGTH_UNCLEAR: Final = "not clear: write a number and a unit, for example 0.62 m "
LENGTH_KEPT: Final = "length {value} {unit} noted"
MARK_KEPT: Final = "mark noted"
NOT_KEPT: Final = "left out"
WAITING: Final = "waiting for the first pulse line"
SILENT: Final = "nothing has come for {seconds:.0f} s: is the board still sending?"
UNREADABLE: Final = "{lines} lines came and none is a pulse line: is it the right port, and its baud rate?"


@dataclass(frozen=True)
class SoFar:
    """The ratio so far: value and half of its 95 % interval as texts rounded alike, and whether only of late."""

    value: str
    half: str
    only_recent: bool = False


@dataclass(frozen=True)
class Recording:
    """A recording at one moment.

    cadence_per_min: wheel turns; None: not known. heard: a pulse line has come. asked: what a key has asked for.
    """

    elapsed_s: float
    connected: bool = False
    heard: bool = False
    pulses: Mapping[str, int] = field(default_factory=dict)
    cadence_per_min: float | None = None
    ratio: SoFar | None = None
    lines: int = 0
    lost: int = 0
    damaged: int = 0
    interruptions: int = 0
    simulated: bool = False
    why_lost: str = ""
    asked: str | None = None
    says: str | None = None


def live_line(now: Recording, width: int) -> str:
    """Return the line that is drawn over and over, no longer than width; what a key asked for goes first."""
    if now.asked is not None:
        return now.asked[-(width - 1) :]
    return " · ".join(_parts(now))[: width - 1]


def progress_line(now: Recording) -> str:
    """Return a plain line for a log of what happens, where nobody watches a terminal."""
    return " · ".join(_parts(now))


def closing_lines(end: Recording, path: str) -> list[str]:
    """Return what is said when the recording is over."""
    lines = [f"{path}: {clock(end.elapsed_s)} recorded{', simulated' if end.simulated else ''}, {_counts(end.pulses)}."]
    if end.ratio is not None:
        of_late = " over the last minutes" if end.ratio.only_recent else ""
        lines.append(f"Ratio so far {end.ratio.value} ± {end.ratio.half} : 1{of_late}.")
    if end.lost or end.damaged or end.interruptions:
        lines.append(
            f"Missing: {_many(end.lost, 'line')} lost, {_many(end.damaged, 'line')} damaged, "
            f"{_many(end.interruptions, 'interruption')}; they are marked in the log."
        )
    return lines


def nothing_came(end: Recording) -> str:
    """Return what is said when no pulse line is in the log: what is wrong and what to do."""
    if end.lines:
        return UNREADABLE.format(lines=end.lines)
    return "nothing came: check that the board is powered, that it sends, and that the source is the right one"


def clock(seconds: float) -> str:
    """Return a time as 0:42, 12:05 or 1:02:03."""
    whole = int(seconds)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def _parts(now: Recording) -> list[str]:
    parts = [clock(now.elapsed_s)]
    if now.simulated:
        parts.append("simulated")
    if not now.connected:
        parts.append(f"NOT CONNECTED ({now.why_lost}), trying again")
    if now.says:
        parts.append(now.says)
    parts += [f"{name} {now.pulses[letter]}" for letter, name in CHANNELS.items() if now.pulses.get(letter)]
    if now.cadence_per_min is not None:
        parts.append(f"{now.cadence_per_min:.0f} turns/min" if now.cadence_per_min else "wheel still")
    if now.ratio is not None:
        parts.append(f"ratio {now.ratio.value} ± {now.ratio.half}")
    if now.lost:
        parts.append(f"{now.lost} lost")
    if now.damaged:
        parts.append(f"{now.damaged} damaged")
    if now.interruptions:
        parts.append(_many(now.interruptions, "interruption"))
    return parts


def _counts(pulses: Mapping[str, int]) -> str:
    """Return how many pulses of each shaft there are."""
    seen = [f"{pulses[letter]} of the {name}" for letter, name in CHANNELS.items() if pulses.get(letter)]
    return f"pulses: {', '.join(seen)}" if seen else "no pulses"


def _many(n: int, what: str) -> str:
    return f"{n} {what}" if n == 1 else f"{n} {what}s"
