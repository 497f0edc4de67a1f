"""A log as text: written line by line, and told apart from files that are no log at all."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from whorlpulse.logfile.header import Entry
from whorlpulse.wire import Damaged, Decoder, Message, Pulse, encode_meta, encode_pulse

#: How much of a file is looked at to tell whether it is a log.
_FIRST_BYTES: Final = 65536
_PIECE_BYTES: Final = 1024


def write_log(entries: Iterable[Entry], pulses: Iterable[Pulse], *, checksum: bool = True) -> Iterator[bytes]:
    """Yield the lines of a log, each with its LF.

    entries: metadata, ascending by row; each is written once so many pulses stand before it. pulses: in
    order; a count is written where it is not 1. Raises ValueError for what would not read back.
    """
    waiting = list(entries)
    waiting.reverse()
    for written, pulse in enumerate(pulses):
        while waiting and waiting[-1].row <= written:
            entry = waiting.pop()
            yield encode_meta(entry.key, entry.value)
        count = pulse.count if pulse.count != 1 else None
        yield encode_pulse(pulse.channel, pulse.tick, pulse.seq, count, checksum=checksum)
    for entry in reversed(waiting):
        yield encode_meta(entry.key, entry.value)


def looks_binary(block: bytes) -> bool:
    """Say whether a file that begins with this block is no pulse log.

    It is none if it has no well-formed line, or if it has NUL bytes and hardly a well-formed line. A log may
    have a few: a board's start-up noise, or blocks that a power cut left unwritten. An empty file is a log.
    """
    first = block[:_FIRST_BYTES]
    decoder, messages, has_nul = Decoder(), [], b"\0" in first
    for i in range(0, len(first), _PIECE_BYTES):
        messages += decoder.feed(first[i : i + _PIECE_BYTES])
        if not has_nul and _well_formed(decoder, messages):
            return False  # the rest can't change it, and line by line it takes as long as all other reading
    if len(block) <= _FIRST_BYTES:
        messages += decoder.finish()
    damaged = sum(isinstance(message, Damaged) for message in messages)
    well_formed = _well_formed(decoder, messages)
    if has_nul:
        return damaged >= well_formed
    return damaged > 0 and well_formed == 0


def _well_formed(decoder: Decoder, messages: list[Message]) -> int:
    return decoder.tally.metadata + sum(isinstance(message, Pulse) for message in messages)
