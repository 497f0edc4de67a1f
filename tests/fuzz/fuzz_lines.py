"""Properties of the two readers of the pulse log, for any bytes: every byte accounted for, both readers alike."""

from __future__ import annotations

import random
import sys
import zlib
from pathlib import Path

from whorlpulse.logfile import LogError, LogReader, bulk, looks_binary, read_log
from whorlpulse.wire import Damaged, Decoder, Gap, Meta, Pulse
from whorlpulse.wire.decoder import LINE_LIMIT

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import naive

#: The slow reader sees one input in so many: it costs as much as all the rest.
_NAIVE_ONE_IN = 8
#: Small blocks, so that short inputs have many of their borders.
_BLOCK = 8192


def pieces(data: bytes) -> list[bytes]:
    """Return the bytes cut anywhere; the same bytes always at the same places."""
    dice = random.Random(zlib.crc32(data))
    cuts = sorted(dice.randrange(len(data) + 1) for _ in range(dice.randrange(6)))
    return [data[i:j] for i, j in zip([0, *cuts], [*cuts, len(data)], strict=True)]


def decoded(data: bytes) -> tuple[list, Decoder]:
    decoder, messages = Decoder(), []
    for piece in pieces(data):
        messages += decoder.feed(piece)
        assert len(decoder._pending) <= LINE_LIMIT + 1, "more than a line is kept"
    return messages + decoder.finish(), decoder


def decoder(data: bytes) -> None:
    """No exception, no more than a line kept, the same messages for any chunking, no byte without its fate."""
    messages, one = decoded(data)
    whole = Decoder()
    assert whole.feed(data) + whole.finish() == messages
    assert whole.tally == one.tally
    account(data, messages, one.tally)
    if zlib.crc32(data) % _NAIVE_ONE_IN == 0:
        as_naive(data, messages, one.tally)


def account(data: bytes, messages: list, tally) -> None:
    """Bytes of lines that were decoded, of damaged ones and of empty ones are all bytes there are."""
    lines = [line + b"\n" for line in data.split(b"\n")]
    lines[-1] = lines[-1][:-1]
    if not lines[-1]:
        lines.pop()
    told = [m for m in messages if not isinstance(m, Gap)]
    numbers = [m.line for m in told]
    assert all(a < b for a, b in zip([0, *numbers], [*numbers, len(lines) + 1], strict=True)), "a line told twice"
    good = sum(len(lines[m.line - 1]) for m in told if not isinstance(m, Damaged))
    bad = sum(len(lines[m.line - 1]) for m in told if isinstance(m, Damaged))
    silent = [lines[n - 1] for n in sorted(set(range(1, len(lines) + 1)) - set(numbers))]
    assert all(line in (b"\n", b"\r\n", b"\r") for line in silent), "a line that is not empty has no message"
    assert good + bad + sum(map(len, silent)) == len(data)
    for m in told:
        if isinstance(m, Damaged):
            shown = m.text.encode("ascii").decode("unicode_escape").encode("latin-1")
            assert lines[m.line - 1].startswith(shown)
            assert shown or not lines[m.line - 1].strip()
    counted = tally.pulses + tally.keep_alives + tally.overruns + tally.metadata + tally.empty
    assert counted + tally.malformed_lines + tally.bad_checksum + tally.torn_tail == tally.total == len(lines)
    assert min(tally.lost, tally.restarted) >= 0


def as_naive(data: bytes, messages: list, tally) -> None:
    """The same as the slow reader that was written from the format's text alone."""
    expected = naive.read(data)
    assert [(m.channel, m.tick, m.count) for m in messages if isinstance(m, Pulse)] == expected.rows
    found = [(m.line, m.key, m.value) for m in messages if isinstance(m, Meta)]
    assert found == [entry[1:] for entry in expected.metadata]
    assert (tally.lost, tally.restarted, tally.torn_tail) == (expected.lost, expected.restarted, expected.torn_tail)
    fate = list(expected.fate.values())
    assert tally.bad_checksum == fate.count("bad checksum")
    assert tally.malformed_lines == fate.count("malformed") + fate.count("repeated")


def one_line(text: str) -> None:
    """A refusal is one line that says something."""
    assert text
    assert len(text.splitlines()) == 1
    assert len(text) < 2000


def log(data: bytes) -> None:
    """The reader in columns says what the decoder says; the only exception is that of an unknown format."""
    usual, bulk._BLOCK = bulk._BLOCK, _BLOCK
    try:
        _log(data)
    finally:
        bulk._BLOCK = usual


def _log(data: bytes) -> None:
    looks_binary(data)
    reader = LogReader()
    for piece in pieces(data):
        reader.feed(piece)
    try:
        read = reader.finish()
    except LogError as refused:
        one_line(str(refused))
        return
    messages, one = decoded(data)
    assert read.tally == one.tally
    pulses = [m for m in messages if isinstance(m, Pulse)]
    assert read.rows.tick.tolist() == [m.tick for m in pulses]
    assert bytes(read.rows.channel.tolist()).decode() == "".join(m.channel for m in pulses)
    counts = dict(zip(read.rows.count_row.tolist(), read.rows.count_value.tolist(), strict=True))
    assert counts == {i: m.count for i, m in enumerate(pulses) if m.count != 1}
    gaps = [m for m in messages if isinstance(m, Gap)]
    assert read.gap_line.tolist() == [m.line for m in gaps]
    assert read.rows.gap_lines.tolist() == [m.lines for m in gaps]
    entries = [(e.line, e.key, e.value) for e in read.header.entries]
    assert entries == [(m.line, m.key, m.value) for m in messages if isinstance(m, Meta)]
    again = read_log(lambda: [data])
    assert again.tally.total == read.tally.total
