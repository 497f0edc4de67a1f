"""The bulk reader against simulated truth: every common shape of line, over many blocks, in bounded memory."""

from __future__ import annotations

import random
import tracemalloc
from functools import reduce
from operator import xor

import numpy as np
import pytest

from whorlpulse.logfile import LogReader, read_log

SHAPES = ["c,t", "c,t*H", "c,t,s", "c,t,s*H", "c,t,s,n", "c,t,s,n*H", "mixed"]


def simulated(shape: str, lines: int, end: bytes = b"\n"):
    """Return a log's bytes and the columns that it was made from."""
    dice = random.Random(shape)
    tick = 2**32 - 90_000_000  # the clock wraps on the way, and so does the sequence number
    columns, text = [], []
    for number in range(lines):
        tick = (tick + dice.randrange(1, 9000)) % 2**32
        channel, count = dice.choice("wffffbykx"), dice.choice([1, 1, 1, 7, 12])
        style = dice.choice(SHAPES[2:-1]) if shape == "mixed" else shape
        fields = {"c": channel, "t": str(tick), "s": str((number + 50_000) % 65536), "n": str(count)}
        line = ",".join(fields[letter] for letter in style.removesuffix("*H").split(",")).encode()
        line += b"*%02X" % reduce(xor, line) if style.endswith("*H") else b""
        text.append(line + end)
        columns.append((ord(channel), tick, count if "n" in style else 1))
    channel, tick, count = (np.array(column) for column in zip(*columns, strict=True))
    return b"".join(text), channel, tick, count


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_common_shapes_are_read_as_they_were_made(shape, end):
    data, channel, tick, count = simulated(shape, 40_000, end)
    log = read_log(lambda: (data[at : at + 100_003] for at in range(0, len(data), 100_003)))
    np.testing.assert_array_equal(log.rows.tick, tick)
    np.testing.assert_array_equal(log.rows.channel, channel)
    assert (log.rows.tick.dtype, log.rows.channel.dtype) == (np.int64, np.uint8)
    np.testing.assert_array_equal(log.rows.count_row, np.flatnonzero(count != 1))
    np.testing.assert_array_equal(log.rows.count_value, count[count != 1])
    tally = log.tally
    assert (tally.total, tally.lost, tally.restarted, tally.malformed, tally.bad_checksum) == (40_000, 0, 0, {}, 0)
    assert (tally.keep_alives, tally.overruns) == (np.sum(channel == ord("k")), np.sum(channel == ord("x")))
    assert len(log.rows.gap_row) == 0


@pytest.mark.parametrize("shape", ["c,t*H", "c,t,s*H", "mixed"])
def test_every_flipped_digit_of_a_checked_line_is_found(shape):
    """One digit in each of a hundred lines becomes another: no column says so, only the checksum."""
    data, _, tick, _ = simulated(shape, 20_000)
    lines = data.split(b"\n")
    checked = [number for number, line in enumerate(lines) if b"*" in line]
    hurt = sorted(random.Random(2).sample(checked, 100))
    for number in hurt:
        line = bytearray(lines[number])
        line[4] = ord("0") + (line[4] - ord("0") + 3) % 10
        lines[number] = bytes(line)
    log = read_log(lambda: [b"\n".join(lines)])
    np.testing.assert_array_equal(log.rows.tick, np.delete(tick, hurt))
    assert log.tally.bad_checksum == 100
    assert log.tally.bad_checksum_lines == [number + 1 for number in hurt[:10]]
    assert log.tally.lost == 0
    if shape == "c,t*H":  # neighbours that both went wrong are one gap of two
        assert int(log.rows.gap_lines.sum()) == 100


def test_lost_lines_are_gaps_at_their_rows():
    data, *_ = simulated("c,t,s*H", 30_000)
    lines = data.splitlines(keepends=True)
    lost = [slice(20_000, 20_017), slice(9_000, 9_001)]
    for part in lost:
        del lines[part]
    log = read_log(lambda: [b"".join(lines)])
    assert log.rows.gap_row.tolist() == [9_000, 19_999]
    assert log.rows.gap_lines.tolist() == [1, 17]
    assert log.gap_line.tolist() == [9_001, 20_000]
    assert log.tally.lost == 18


def test_memory_is_sixteen_bytes_a_row_and_a_little():
    data, *_ = simulated("c,t,s*H", 300_000)
    view = memoryview(data)
    tracemalloc.start()
    try:
        reader = LogReader()
        for at in range(0, len(data), 1 << 18):
            reader.feed(bytes(view[at : at + (1 << 18)]))
        log = reader.finish()
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert len(log.rows) == 300_000
    assert peak <= 16 * 300_000 + 6_000_000  # the bar is 40 MB; a block's columns need a tenth of it


def test_a_stream_without_line_ends_is_read_in_bounded_memory():
    tracemalloc.start()
    try:
        reader = LogReader()
        for _ in range(200):
            reader.feed(b"\x55" * 100_000)
        reader.feed(b"\nw,1,1\n")
        log = reader.finish()
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert (log.tally.total, log.tally.malformed_lines, len(log.rows)) == (2, 1, 1)
    assert peak < 3_000_000
