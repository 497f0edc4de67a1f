"""What every importer makes: pulses on one clock, in order, and notes of what was guessed or chosen.

A recording is written as a pulse log by `log_lines`, which numbers its lines, so that it is read back by the
same rules as a board's.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from whorlpulse.pulses import ByteArray, IntArray
from whorlpulse.wire import Pulse

SEQ_BITS: Final = 16
#: Characters of a refusal.
_LONGEST_TEXT: Final = 1000
#: Ten days: each second becomes a line, so that a wrong time in a small file must not make a large log.
_LONGEST_S: Final = 10 * 86400.0


class _Refusal(ValueError):  # noqa: N818 - says a state of the input
    """One line of bounded length, whatever names of the file it quotes."""

    def __init__(self, text: str) -> None:
        super().__init__(text if len(text) <= _LONGEST_TEXT else f"{text[: _LONGEST_TEXT - 3]}...")


class Unreadable(_Refusal):
    """The bytes cannot be read as this kind of recording; one line: what, where, what to do."""


class NothingFound(_Refusal):
    """The recording was read, but no pulse is in it; one line: what, and what to try."""


@dataclass(frozen=True)
class Recording:
    """Pulses of all channels: tick (n,) int64, not falling, of tick_hz; channel (n,) uint8, ASCII letters.

    count (n,) int64 or None: pulses a line stands for, None: one each. notes: sentences for the log's header.
    watched: first and last tick of an unbroken recording, None when only events were written down; a watched
    recording gets keep-alives, because a still shaft in it is surely still.
    """

    tick_hz: float
    tick: IntArray
    channel: ByteArray
    notes: tuple[str, ...]
    watched: tuple[int, int] | None = None
    count: IntArray | None = None

    def pulses_by_channel(self) -> Mapping[str, int]:
        """Return how many pulses each channel has, by letter, in order of the letters' first pulse."""
        counts: dict[str, int] = {}
        for code in self.channel.tolist():
            counts[chr(code)] = counts.get(chr(code), 0) + 1
        return counts


def merged(
    tick_hz: float, by_channel: Mapping[str, IntArray], notes: Sequence[str], watched: tuple[int, int] | None = None
) -> Recording:
    """Return the channels' ticks (each (m,) int64) as one recording in order of time.

    Raises Unreadable when the recording is longer than any can be (a time of the file is wrong, or its unit).
    """
    if watched is not None and (watched[1] - watched[0]) / tick_hz > _LONGEST_S:
        days = (watched[1] - watched[0]) / tick_hz / 86400
        raise Unreadable(f"would be {days:.0f} days long: check the last time in it and the unit of its times")
    ticks = [np.asarray(t, np.int64) for t in by_channel.values()]
    letters = [np.full(len(t), ord(c), np.uint8) for c, t in by_channel.items()]
    tick = np.concatenate(ticks) if ticks else np.empty(0, np.int64)
    channel = np.concatenate(letters) if letters else np.empty(0, np.uint8)
    order = np.argsort(tick, kind="stable")
    return Recording(tick_hz, tick[order], channel[order], tuple(notes), watched)


def header_lines(recording: Recording, targets: str | None, source: str) -> list[tuple[str, str]]:
    """Return the log's metadata as (key, value), in order. targets: as in the log, `w=4 f=1`, None: not known.

    source: the name of the file that was converted.
    """
    lines = [
        ("format", "pulses 1"),
        ("tick_hz", hertz_text(recording.tick_hz)),
        ("tick_bits", "0"),
        ("seq_bits", str(SEQ_BITS)),
    ]
    if targets is not None:
        lines.append(("targets", targets))
    notes = (f"converted from {source}", *recording.notes)
    return lines + [("note", one_line(text)) for text in notes]


def log_lines(recording: Recording) -> Iterator[Pulse]:
    """Yield the pulse lines with their sequence numbers, a keep-alive once a second where it was watched."""
    counts = None if recording.count is None else recording.count.tolist()
    seq = 0
    alive = _alive_ticks(recording)
    next_alive = next(alive, None)
    for i, (tick, code) in enumerate(zip(recording.tick.tolist(), recording.channel.tolist(), strict=True)):
        while next_alive is not None and next_alive <= tick:
            yield Pulse(0, "k", next_alive, seq % 2**SEQ_BITS, 1)
            seq += 1
            next_alive = next(alive, None)
        yield Pulse(0, chr(code), tick, seq % 2**SEQ_BITS, 1 if counts is None else counts[i])
        seq += 1
    while next_alive is not None:
        yield Pulse(0, "k", next_alive, seq % 2**SEQ_BITS, 1)
        seq += 1
        next_alive = next(alive, None)


def _alive_ticks(recording: Recording) -> Iterator[int]:
    """Yield the start, every whole second and the end of a watched recording, in ticks."""
    if recording.watched is None:
        return
    first, last = recording.watched
    # a clock of less than one tick a second can't tick in between
    step = max(recording.tick_hz, 1.0)
    for second in range(int((last - first) / step) + 1):
        if (tick := first + round(second * step)) < last:
            yield tick
    yield last


def hertz_text(tick_hz: float) -> str:
    """Return ticks per second as the log writes them: whole where they are."""
    return str(int(tick_hz)) if tick_hz == int(tick_hz) else repr(tick_hz)


def one_line(text: str) -> str:
    """Return text as it may stand in a log: one line of ASCII, without runs of blanks."""
    return " ".join(text.split()).encode("ascii", "backslashreplace").decode("ascii")[:2000].strip()
