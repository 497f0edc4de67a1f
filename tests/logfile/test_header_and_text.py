"""Metadata by its keys, logs written and read back, and files that are no log."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from whorlpulse.logfile import Entry, Header, LogError, Mark, Sync, looks_binary, read_log, write_log
from whorlpulse.wire import Damaged, Decoder, Pulse


def header(*lines: str) -> Header:
    return read_log(lambda: ["".join(f"# {line}\n" for line in lines).encode()]).header


def test_defaults_are_those_of_the_format():
    empty = header()
    assert (empty.format, empty.tick_hz, empty.tick_bits, empty.seq_bits) == (1, 1e6, 32, 16)
    assert dict(empty.targets) == {"w": 1, "f": 1, "b": 1, "y": 1}
    assert (empty.roller, empty.board, empty.started, empty.note) == (None, None, None, None)


def test_every_key_is_read():
    full = header(
        "format: pulses 1",
        "tick_hz: 1024",
        "tick_bits: 16",
        "seq_bits: 8",
        "targets: w=4 f=2",
        "roller: 10.00 cm",
        "board: bench board, second build",
        "started: 2031-04-05T06:07:08Z",
        "note: first skein: the soft one",
        "bench: left",
    )
    assert (full.tick_hz, full.tick_bits, full.seq_bits) == (1024.0, 16, 8)
    assert dict(full.targets) == {"w": 4, "f": 2, "b": 1, "y": 1}
    assert (full.roller, full.board) == ("10.00 cm", "bench board, second build")
    assert (full.started, full.note) == ("2031-04-05T06:07:08Z", "first skein: the soft one")
    assert full.entries[-1] == Entry(0, 10, "bench", "left")
    assert full.problems == ()


def test_the_last_single_value_wins_and_repeated_keys_keep_their_place():
    log = read_log(
        lambda: [
            b"# tick_hz: 5\nw,1\n# length: 1 0 m\n# sync: 1900000000.25 1\nw,2\nw,3\n# length: 3 1.5 yd\n"
            b"# mark: 3 new band\n# mark: 4\n# tick_hz: 1e3\n# sync: 1900000001 3\n"
        ]
    )
    assert log.header.tick_hz == 1000.0
    lengths = [(line.tick, line.value, line.unit, line.row, line.line) for line in log.header.lengths]
    assert lengths == [(1, 0.0, "m", 1, 3), (3, 1.5, "yd", 3, 7)]
    assert log.header.syncs == (Sync(1900000000.25, 1, 1), Sync(1900000001.0, 3, 3))
    assert log.header.marks == (Mark(3, "new band", 3), Mark(4, "", 3))


@pytest.mark.parametrize(
    "line",
    [
        "tick_hz: 0",
        "tick_hz: -5",
        "tick_hz: nan",
        "tick_hz: 1e999",
        "tick_hz: 1 MHz",
        "tick_bits: 65",
        "tick_bits: x",
        "seq_bits: 63",
        "targets: ",
        "targets: w=0",
        "targets: k=1",
        "targets: w=2, f=1",
        "sync: 5",
        "sync: now 5",
        "sync: 5 9223372036854775808",
        "length: 5 m",
        "length: 5 1.5",
        "length: 5 -1 m",
        "length: 5 1e999 m",
        "mark: here",
    ],
)
def test_a_bad_value_is_a_problem_and_the_default_holds(line):
    read = header(line)
    key, _, value = line.partition(":")
    (problem,) = read.problems
    assert (problem.line, problem.key, problem.value) == (1, key, value.strip())
    assert len(problem.why) > 10
    plain = header()
    for name in ("tick_hz", "tick_bits", "seq_bits", "targets", "syncs", "lengths", "marks"):
        assert getattr(read, name) == getattr(plain, name)


@pytest.mark.parametrize("value", ["pulses 2", "pulses", "csv 1", "pulses 01x", ""])
def test_an_unknown_format_is_refused_in_one_line(value):
    with pytest.raises(LogError) as error:
        header("note: x", f"format: {value}")
    assert "\n" not in str(error.value)
    assert "line 2" in str(error.value)
    assert "pulses 1" in str(error.value)


def test_counters_that_never_come_round():
    assert header("tick_bits: 64").tick_bits == 0
    assert header("tick_bits: 0").tick_bits == 0
    assert math.isfinite(header("tick_hz: 4.5e6").tick_hz)


def test_a_log_written_is_read_back():
    entries = [Entry(0, 1, "format", "pulses 1"), Entry(2, 4, "mark", "70 here"), Entry(3, 6, "", "the end")]
    pulses = [
        Pulse(2, "w", 65, 1, 1),
        Pulse(3, "f", 70, 2, 3),
        Pulse(5, "k", 90, 3, 1),
    ]
    data = b"".join(write_log(entries, pulses))
    assert data.splitlines()[1] == b"w,65,1*45"  # by hand: 77 ^ 2C ^ 36 ^ 35 ^ 2C ^ 31
    log = read_log(lambda: [data])
    assert list(log.header.entries) == entries
    decoder = Decoder()
    assert [m for m in decoder.feed(data) if isinstance(m, Pulse)] == pulses
    assert b"".join(write_log(log.header.entries, pulses)) == data


def test_gaps_and_counts_stand_at_their_rows():
    log = read_log(lambda: [b"w,1,1\nf,2,2,5\n\nw,9,9\nzzz\nw,10,11\nf,11,3\n"])
    assert log.rows.count_row.tolist() == [1]
    assert log.rows.count_value.tolist() == [5]
    assert log.rows.gap_row.tolist() == [2, 3, 4]
    assert log.rows.gap_lines.tolist() == [6, 1, 0]
    assert log.gap_line.tolist() == [4, 6, 7]
    assert (log.tally.lost, log.tally.restarted) == (6, 1)


def test_blocks_are_read_again_when_the_width_comes_late():
    calls = []

    def blocks():
        calls.append(1)
        return [b"f,1,255\nf,2,0\n# seq_bits: 8\nf,3,1\n"]

    log = read_log(blocks)
    assert len(calls) == 2
    assert (len(log.rows.gap_row), log.tally.restarted, log.header.seq_bits) == (0, 0, 8)
    calls.clear()
    read_log(lambda: [*blocks(), b"# seq_bits: 16\n"][1:] or blocks())
    assert len(calls) == 1


@pytest.mark.parametrize(
    ("block", "binary"),
    [
        (b"", False),
        (b"\n\n\n", False),
        (b"w,1\n", False),
        (b"# note: only a note", False),
        (b"boot chatter\nf,1,1\n", False),
        (b"\0\0\x80\nf,1,1*66\nf,2,2*66\nf,3,3*66\n", False),
        (b"f,1,1\nf,2,2\n" + b"\0" * 5000, False),  # blocks that a power cut left unwritten
        (b"RIFF\0\0\0\0WAVEfmt \0\n\n", True),
        (b"\x7fELF\x02\x01\x01\0" + bytes(range(256)) * 200, True),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(1, 256)) * 300, True),
        (b"a letter to a friend\nabout spinning\n", True),
    ],
)
def test_files_that_are_no_log(block, binary):
    assert looks_binary(block) is binary


def whole_block_says_binary(block: bytes) -> bool:
    """The rule as it stands in looks_binary's words, by every line of the first 64 kB."""
    first, decoder = block[:65536], Decoder()
    messages = [*decoder.feed(first), *(decoder.finish() if len(block) <= 65536 else [])]
    good = decoder.tally.metadata + sum(isinstance(m, Pulse) for m in messages)
    bad = sum(isinstance(m, Damaged) for m in messages)
    return bad >= good if b"\0" in first else bad > 0 and good == 0


PIECES = st.sampled_from(
    [b"f,1,1*66\n", b"w,7\n", b"# note: x\n", b"\n", b"\0\0", b"a letter\n", b"f,1,1*67\n", b"\xff" * 700, b"y" * 5000]
)


@given(st.lists(st.tuples(PIECES, st.integers(1, 40)), max_size=12))
def test_to_stop_at_the_first_good_line_changes_no_answer(parts):
    block = b"".join(piece * times for piece, times in parts)
    assert looks_binary(block) is whole_block_says_binary(block)
