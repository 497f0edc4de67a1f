"""Any bytes in any chunking: the decoder, the bulk reader and a naive reader say the same, and none raises."""

from __future__ import annotations

import random
import sys
from functools import reduce
from operator import xor
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from whorlpulse.logfile import LogError, LogReader, bulk, read_log
from whorlpulse.wire import Decoder, Gap, Meta, Pulse

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import naive


def decoded(data: bytes, cuts: list[int], **options):
    """Return rows, gaps, metadata and tally from the decoder, fed in pieces."""
    decoder = Decoder(**options)
    messages = []
    for start, stop in zip([0, *cuts], [*cuts, len(data)], strict=True):
        messages += decoder.feed(data[start:stop])
    messages += decoder.finish()
    rows, gaps, metadata = [], [], []
    for message in messages:
        if isinstance(message, Pulse):
            rows.append((message.channel, message.tick, message.count))
        elif isinstance(message, Gap):
            gaps.append((len(rows), message.lines, message.line))
        elif isinstance(message, Meta):
            metadata.append((len(rows), message.line, message.key, message.value))
    return rows, gaps, metadata, decoder.tally


def in_bulk(data: bytes, cuts: list[int], **options):
    """Return the same from the bulk reader; a log of an unknown format still has rows to compare."""
    reader = LogReader(**options)
    for start, stop in zip([0, *cuts], [*cuts, len(data)], strict=True):
        reader.feed(data[start:stop])
    return unpacked(reader.finish())


def unpacked(log):
    count = dict(zip(log.rows.count_row.tolist(), log.rows.count_value.tolist(), strict=True))
    ticks, channels = log.rows.tick.tolist(), log.rows.channel.tolist()
    rows = [(chr(c), t, count.get(i, 1)) for i, (c, t) in enumerate(zip(channels, ticks, strict=True))]
    gap_columns = log.rows.gap_row.tolist(), log.rows.gap_lines.tolist(), log.gap_line.tolist()
    gaps = list(zip(*gap_columns, strict=True))
    metadata = [(e.row, e.line, e.key, e.value) for e in log.header.entries]
    return rows, gaps, metadata, log.tally


def assert_same_as_naive(result, data: bytes, **options) -> None:
    rows, gaps, metadata, tally = result
    expected = naive.read(data, **options)
    assert rows == expected.rows
    assert gaps == expected.gaps
    assert metadata == expected.metadata
    fate = list(expected.fate.values())
    assert tally.total == len(fate)
    assert tally.pulses == fate.count("pulse")
    assert tally.keep_alives == fate.count("keep-alive")
    assert tally.overruns == fate.count("overrun")
    assert tally.metadata == fate.count("metadata")
    assert tally.empty == fate.count("empty")
    assert tally.bad_checksum == fate.count("bad checksum")
    assert tally.bad_checksum_lines == [n for n, f in expected.fate.items() if f == "bad checksum"][:10]
    assert tally.malformed_lines == fate.count("malformed") + fate.count("repeated")
    if "repeated" in tally.malformed:
        repeated = [n for n, f in expected.fate.items() if f == "repeated"]
        assert tally.malformed["repeated"].count == len(repeated)
        assert tally.malformed["repeated"].lines == repeated[:10]
    if tally.malformed_lines <= 10:
        lines = sorted(n for seen in tally.malformed.values() for n in seen.lines)
        assert lines == [n for n, f in expected.fate.items() if f in ("malformed", "repeated")]
    assert (tally.lost, tally.restarted, tally.torn_tail) == (
        expected.lost,
        expected.restarted,
        expected.torn_tail,
    )


def pulse_line(dice: random.Random, shape: str, channel: str, tick: int, seq: int) -> bytes:
    body = f"{channel},{tick}"
    if "s" in shape:
        body += f",{seq}"
    if "n" in shape:
        body += f",{dice.choice([1, 1, 1, 2, 9, 10, 0, 123456])}"
    line = body.encode()
    if "h" in shape:
        line += b"*%02X" % reduce(xor, line)
    return line


ODD_LINES = [
    b"",
    b"# note: hello",
    b"# just so",
    b"# seq_bits: 8",
    b"# seq_bits: 4",
    b"# seq_bits: 16",
    b"# seq_bits: 0",
    b"#",
    b"\xff\xfe\x00",
    b"w",
    b"w,1*",
    b"x" * 4096,
    b"x" * 4097,
    b"#" * 4098,
    b"f," + b"0" * 30 + b"7",
    b"f,99999999999999999999",
    b"f,12345678901234567,5",
    b"f,1,123456789",
]


def mutated_log(seed: int, lines: int, damage: float) -> bytes:
    """Return a log in one of many styles with about this share of its lines damaged, odd, lost or doubled."""
    dice = random.Random(seed)
    shape = dice.choice(["", "h", "s", "sh", "sh", "sh", "snh", "sn", "mixed"])
    end = dice.choice([b"\n", b"\n", b"\r\n"])
    seq = dice.choice([0, 5, 90, 65500])
    tick = dice.choice([0, 900, 99_990_000, 2**32 - 20_000, 10**15])
    step = dice.choice([3, 1000, 70_000])
    width = dice.choice([8, 16, 16, 16])
    out = [b"# format: pulses 1\n", b"# seq_bits: %d\n" % width]
    for _ in range(lines):
        tick = (tick + dice.randrange(1, step)) % 2**32 if tick < 2**33 else tick + dice.randrange(step)
        seq = (seq + 1) % 2**width
        style = dice.choice(["", "h", "s", "sh", "snh"]) if shape == "mixed" else shape
        line = bytearray(pulse_line(dice, style, dice.choice("wffffbykx"), tick, seq) + end)
        if dice.random() < damage:
            match dice.randrange(10):
                case 0:
                    line[dice.randrange(len(line))] = dice.randrange(256)
                case 1:
                    line[dice.randrange(len(line))] ^= 1 << dice.randrange(8)
                case 2:
                    del line[dice.randrange(len(line))]
                case 3:
                    line.insert(dice.randrange(len(line)), dice.choice(b"0123456789,*wf#\r\n\0"))
                case 4:
                    line *= 2
                case 5:
                    line.clear()
                case 6:
                    line[:0] = dice.choice(ODD_LINES) + end
                case 7:
                    seq = dice.choice([seq + 3, seq - 2, 0, seq + 40_000]) % 2**width
                case 8:
                    line[-1:] = bytes([dice.randrange(256)])
                case 9:  # the board begins anew, or as if
                    seq, tick = dice.choice([2**width - 1, 0, 40]), dice.choice([tick, dice.randrange(5000)])
        out.append(bytes(line))
    data = b"".join(out)
    return data[: len(data) - dice.randrange(12)] if dice.random() < 0.5 else data


def some_cuts(seed: int, size: int) -> list[int]:
    dice = random.Random(seed)
    return sorted(dice.randrange(size + 1) for _ in range(dice.randrange(20)))


@pytest.fixture(scope="module", autouse=True)
def small_blocks():
    """Let the bulk reader work in small blocks, so that short logs have many of their borders."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bulk, "_BLOCK", 8192)
        yield


def check(data: bytes, cuts: list[int], **options) -> None:
    one = decoded(data, cuts, **options)
    assert_same_as_naive(one, data, **options)
    assert decoded(data, [], **options) == one
    assert in_bulk(data, cuts, **options) == one


@given(st.integers(0, 2**32), st.integers(0, 700), st.sampled_from([0.0, 0.002, 0.02, 0.2, 0.7]))
@settings(max_examples=150, deadline=None)
def test_mutated_logs_read_alike(seed, lines, damage):
    data = mutated_log(seed, lines, damage)
    check(data, some_cuts(seed, len(data)))


FRAGMENTS = [b"w", b"f,", b",", b"*", b"0", b"12", b"\n", b"\r\n", b"\r", b"#", b":", b" ", b"\xff", b"\0", b"A"]
LINES = [b"w,7*6C\n", b"f,12,3*56\n", b"f,12,3\n", b"f,13,4\n", b"f,13,5,2\n", b"f,13,0\n", b"# seq_bits: 2\n"]
PIECES = st.sampled_from([*FRAGMENTS, *LINES])


@given(st.lists(PIECES, max_size=60).map(b"".join), st.lists(st.integers(0, 100), max_size=6))
@settings(max_examples=300, deadline=None)
def test_any_pieces_in_any_chunking_read_alike(data, cuts):
    check(data, sorted(min(cut, len(data)) for cut in cuts))


@given(st.binary(max_size=300))
@settings(max_examples=150, deadline=None)
def test_any_bytes_read_alike(data):
    check(data, [])


@given(st.integers(0, 2**32), st.sampled_from([0, 1, 8, 62]))
@settings(max_examples=30, deadline=None)
def test_a_given_width_is_kept_to(seed, bits):
    check(mutated_log(seed, 80, 0.2), [], seq_bits=bits, heed_seq_bits=False)


@given(st.integers(0, 2**32), st.sampled_from([0.0, 0.1]))
@settings(max_examples=60, deadline=None)
def test_the_last_width_holds_for_the_whole_log(seed, damage):
    dice = random.Random(seed)
    late = b"".join(b"# seq_bits: %d\n" % dice.choice([4, 8, 16, 99]) for _ in range(dice.randrange(3)))
    data = mutated_log(seed, 120, damage).replace(b"# seq_bits: 0", b"# seq_bits: 8") + b"\n" + late
    widths = [v for _, _, k, v in naive.read(data).metadata if k == "seq_bits" and v in {str(n) for n in range(63)}]
    last = int(widths[-1]) if widths else 16
    log = read_log(lambda: [data])
    assert log.header.seq_bits == last
    assert_same_as_naive(unpacked(log), data, seq_bits=last, heed_seq_bits=False)


def test_a_million_lines_of_every_kind_raise_nothing():
    """Deterministic, both readers: mutated logs, then noise. The tallies must agree and account for every line."""
    lines = 0
    for seed in range(250):
        data = mutated_log(seed, 2000, [0.0, 0.001, 0.05, 0.5][seed % 4])
        lines += _account(data)
    dice = random.Random(1)
    for _ in range(40):
        noise = bytes(dice.choices(b"wfk,,,,0123456789*#A\r\n\n", k=50_000))
        lines += _account(noise)
        lines += _account(dice.randbytes(100_000).replace(b"\xfe", b"\n").replace(b"\xfd", b"\n"))
    assert lines >= 1_000_000


def _account(data: bytes) -> int:
    """Read with both readers; return the lines that both have read, all told."""
    decoder, reader = Decoder(), LogReader()
    messages = decoder.feed(data) + decoder.finish()
    reader.feed(data)
    try:
        log = reader.finish()
    except LogError:
        return 0
    tally = decoder.tally
    assert log.tally == tally
    assert len(log.rows) == sum(isinstance(message, Pulse) for message in messages)
    accounted = tally.pulses + tally.keep_alives + tally.overruns + tally.metadata + tally.empty
    accounted += tally.malformed_lines + tally.bad_checksum + tally.torn_tail
    assert accounted == tally.total
    assert tally.total == data.count(b"\n") + (not data.endswith(b"\n"))
    return 2 * tally.total
