"""What the decoder says of gaps, repeats, restarts, endless lines and torn ends, example by example."""

from __future__ import annotations

import pytest

from whorlpulse.wire import Damaged, Decoder, Gap, Meta, Pulse


def decode(stream: bytes, seq_bits: int = 16):
    decoder = Decoder(seq_bits)
    messages = decoder.feed(stream) + decoder.finish()
    return messages, decoder.tally


def gaps(messages):
    return [(m.line, m.lines) for m in messages if isinstance(m, Gap)]


def test_lines_that_follow_make_no_gap_also_where_the_number_wraps():
    messages, tally = decode(b"f,1,65534\nw,2,65535\nf,3,0\nk,4,1\n")
    assert [type(m) for m in messages] == [Pulse] * 4
    assert (tally.total, tally.pulses, tally.keep_alives, tally.lost) == (4, 3, 1, 0)


def test_a_jump_is_a_gap_and_counts_as_lost():
    messages, tally = decode(b"f,1,5\nf,9,8\n")
    assert messages[1] == Gap(2, 2)
    assert tally.lost == 2


def test_damaged_lines_explain_part_of_a_jump():
    messages, tally = decode(b"f,1,5\nf,3x,6\nf,9,10\n")
    assert gaps(messages) == [(3, 4)]  # numbers 6, 7, 8, 9 are not in the rows
    assert tally.lost == 3  # but 6 arrived


def test_more_damage_than_the_jump_is_not_a_negative_loss():
    messages, tally = decode(b"f,1,5\nboot\nnoise\n?\nf,9,7\n")
    assert gaps(messages) == [(5, 1)]
    assert tally.lost == 0


def test_damage_between_lines_that_follow_is_no_gap():
    messages, tally = decode(b"f,1,5\nsome chatter\nf,9,6\n")
    assert gaps(messages) == []
    assert tally.malformed_lines == 1


@pytest.mark.parametrize("seq", [0, 3, 5, 40000])
def test_backwards_or_far_ahead_is_a_restart(seq):
    messages, tally = decode(b"f,1,5\nf,2,%d\nf,3,%d\n" % (seq, seq + 1))
    assert gaps(messages) == [(2, 0)]
    assert (tally.restarted, tally.lost, tally.pulses) == (1, 0, 3)


def test_the_same_line_again_is_no_pulse():
    messages, tally = decode(b"f,1,5\nf,1,5\nf,2,6\n")
    assert messages[1] == Damaged(2, "repeated", "f,1,5")
    assert gaps(messages) == []
    assert tally.pulses == 2
    assert tally.malformed["repeated"].lines == [2]


def test_without_numbers_a_wrong_checksum_is_a_gap_of_one():
    messages, tally = decode(b"w,7*6C\nw,7*00\nw,7*6C\nw,7*11\nw,7*12\nw,7*6C\n")
    assert gaps(messages) == [(3, 1), (6, 2)]
    assert (tally.bad_checksum, tally.bad_checksum_lines, tally.lost) == (3, [2, 4, 5], 0)


def test_seq_bits_holds_from_its_line_on():
    messages, tally = decode(b"# seq_bits: 8\nf,1,255\nf,2,0\n# seq_bits: 16\nf,3,65535\n")
    assert gaps(messages) == [(5, 0)]
    assert tally.restarted == 1
    messages, _ = decode(b"f,1,255\nf,2,0\n")
    assert gaps(messages) == [(2, 0)]
    messages, _ = decode(b"f,1,255\nf,2,0\n", seq_bits=8)
    assert gaps(messages) == []


@pytest.mark.parametrize("value", ["64", "-1", "x", "", "1e1", "٤"])
def test_a_width_that_says_nothing_changes_nothing(value):
    messages, _ = decode(b"# seq_bits: 8\n# seq_bits: %b\nf,1,255\nf,2,0\n" % value.encode())
    assert gaps(messages) == []


@pytest.mark.parametrize(
    ("tail", "torn"),
    [
        (b"", False),
        (b"f,12,3*56", False),
        (b"f,12,3*56\r", False),
        (b"# note: x", False),
        (b"\r", False),
        (b"f,12,3*5", True),
        (b"f,12,3*57", True),
        (b"f,12,3", True),
        (b"f", True),
        (b"f,12,", True),
    ],
)
def test_torn_tail(tail, torn):
    messages, tally = decode(b"f,11,2\n" + tail)
    assert tally.torn_tail is torn
    assert tally.total == (2 if tail else 1)
    if torn:
        assert isinstance(messages[-1], Damaged)
        assert messages[-1].cause == "torn"
        assert tally.pulses == 1
        assert tally.malformed == {}


def test_an_endless_line_is_cut_counted_once_and_left_at_its_end():
    decoder = Decoder()
    messages = decoder.feed(b"f,1,1\n")
    for _ in range(3000):
        messages += decoder.feed(b"x" * 1000)
        assert len(decoder._pending) <= 5100
    messages += decoder.feed(b"yz\nf,2,2\n") + decoder.finish()
    assert [type(m) for m in messages] == [Pulse, Damaged, Pulse]
    assert messages[2].line == 3
    assert decoder.tally.malformed["longer than 4096 bytes"].lines == [2]
    assert not decoder.tally.torn_tail


def test_ten_line_numbers_are_kept_for_each_cause():
    _, tally = decode(b"oh\n" * 30 + b"z,1\n")
    assert tally.malformed["not a pulse line"].count == 30
    assert tally.malformed["not a pulse line"].lines == list(range(1, 11))
    assert tally.malformed["unknown channel"].lines == [31]


def test_metadata_keeps_its_line():
    messages, tally = decode(b"\n# mark: 5 new band\r\n\n")
    assert messages == [Meta(2, "mark", "5 new band")]
    assert (tally.empty, tally.metadata, tally.total) == (2, 1, 3)


def test_nothing_can_be_fed_after_the_end():
    decoder = Decoder()
    decoder.finish()
    with pytest.raises(RuntimeError, match="new one"):
        decoder.feed(b"f,1\n")
