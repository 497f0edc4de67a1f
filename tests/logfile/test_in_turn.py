"""Numbers that go up by one are compared instead of read: the grammar's line-by-line decoder must find the same."""

from __future__ import annotations

from functools import reduce
from operator import xor

import numpy as np
import pytest

from whorlpulse.logfile import read_log
from whorlpulse.pulses import Rows
from whorlpulse.wire import Decoder, Gap, Pulse

LINES = 3_000


def lines_of(first: int, *, checked: bool, width: int = 0, step: int = 1, mask: int = 0xFFFF) -> list[bytes]:
    """Return lines of one tick width, numbered from `first` on, the numbers padded to `width` digits."""
    lines = []
    for i in range(LINES):
        body = f"{'wffk'[i % 4]},{10_000_000 + 977 * i},{(first + step * i) & mask:0{width}d}".encode()
        lines.append(body + (b"*%02X" % reduce(xor, body) if checked else b""))
    return lines


def changed(lines: list[bytes], at: int, new: bytes) -> list[bytes]:
    return [*lines[:at], new, *lines[at + 1 :]]


def one_by_one(data: bytes) -> tuple[list[tuple[str, int]], list[tuple[int, int]], object]:
    decoder = Decoder()
    messages = [*decoder.feed(data), *decoder.finish()]
    pulses = [(m.channel, m.tick) for m in messages if isinstance(m, Pulse)]
    gaps = [(m.line, m.lines) for m in messages if isinstance(m, Gap)]
    return pulses, gaps, decoder.tally


def in_columns(data: bytes) -> tuple[list[tuple[str, int]], list[tuple[int, int]], object]:
    log = read_log(lambda: [data])
    rows: Rows = log.rows
    pulses = [(chr(c), int(t)) for c, t in zip(rows.channel, rows.tick, strict=True)]
    return pulses, list(zip(log.gap_line.tolist(), rows.gap_lines.tolist(), strict=True)), log.tally


PLAIN, CHECKED = lines_of(20_000, checked=False), lines_of(20_000, checked=True)
LOGS = {
    "in turn": CHECKED,
    "without checksums": PLAIN,
    "through the wrap": lines_of(64_000, checked=True),
    "from 0 on": lines_of(0, checked=True),
    "beyond the table": [b"# seq_bits: 20", *lines_of(65_000, checked=True, mask=0xFFFFF)],
    "with zeros in front": lines_of(0, checked=True, width=5),
    "every second number": lines_of(20_000, checked=True, step=2),
    "the same number": lines_of(20_000, checked=True, step=0),
    "lines lost": CHECKED[:1_000] + CHECKED[1_007:],
    "a few lines moved": CHECKED[:2_000] + CHECKED[2_001:2_003] + CHECKED[2_000:2_001] + CHECKED[2_003:],
    "a line twice": [*CHECKED[:1_500], CHECKED[1_499], *CHECKED[1_500:]],
    "a digit of a number changed": changed(CHECKED, 700, CHECKED[700].replace(b",207", b",217")),
    "the same, unchecked": changed(PLAIN, 700, PLAIN[700].replace(b",207", b",217")),
    "a letter in a number": changed(PLAIN, 800, PLAIN[800][:-1] + b"x"),
    "no comma before a number": changed(PLAIN, 900, b".".join(PLAIN[900].rsplit(b",", 1))),
    "the number before it once more": changed(PLAIN, 901, PLAIN[901][:-1] + PLAIN[900][-1:]),
}


@pytest.mark.parametrize("log", LOGS)
@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_numbers_are_found_as_the_grammar_reads_them(log, end):
    data = b"".join(line + end for line in LOGS[log])
    assert in_columns(data) == one_by_one(data)


def test_lost_lines_are_counted():
    tally = read_log(lambda: [b"\n".join(LOGS["lines lost"]) + b"\n"]).tally
    assert (tally.lost, tally.total, tally.malformed) == (7, LINES - 7, {})


def test_a_long_run_in_turn_needs_no_reading_of_its_numbers():
    from whorlpulse.logfile.in_turn import in_turn

    words = np.frombuffer(b"".join(b",%05dab" % n for n in range(12_000, 13_000)), np.uint64)
    found = in_turn(words, 5)
    assert found is not None
    assert not found.wrong.any()
    assert found.seq.tolist() == list(range(12_000, 13_000))
    assert found.xor.tolist() == [reduce(xor, (b"%d" % n)) ^ ord("0") for n in range(12_000, 13_000)]
