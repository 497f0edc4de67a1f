"""The checksum against published sentences, and each rule of the grammar by its examples."""

from __future__ import annotations

import pytest

from whorlpulse.wire import Damaged, Decoder, Meta, Pulse, checksum_digits, encode_meta, encode_pulse, xor_of
from whorlpulse.wire.grammar import (
    BAD_CHECKSUM,
    CHECKSUM_FORM,
    COUNT_0,
    FIELDS,
    NO_FIELDS,
    NOT_A_NUMBER,
    NOT_ASCII,
    TOO_LARGE,
    TOO_LONG,
    UNKNOWN_CHANNEL,
    read_line,
)

PUBLISHED = [
    # docs.rs, crate swiftnav 0.13.0, tests of its NMEA checksum
    (b"GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", b"47"),
    (b"GPGLL,5057.970,N,00146.110,E,142451,A", b"27"),
    # rdrr.io, package em38, example of nmea_check
    (b"GPGGA,015808.00,2726.53758,S,15126.05255,E,1,08,1.0,365.1,M,39.5,M,,", b"79"),
    # serialcs.sourceforge.net, description of serial.Utils.nmeaChksum
    (b"PSRF103,00,01,00,01", b"25"),
    # from memory: the RMC sentence that goes with the first one in many tutorials
    (b"GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W", b"6A"),
]


@pytest.mark.parametrize(("body", "digits"), PUBLISHED)
def test_checksum_of_published_sentences(body, digits):
    assert checksum_digits(body) == digits
    assert xor_of(body) == int(digits, 16)


#: The checksums of these lines were worked out by hand from the ASCII table: the commas of a pair cancel.
#: w,7: 77 ^ 2C ^ 37 = 6C.  f,12,3: 66 ^ 2C ^ 31 ^ 32 ^ 2C ^ 33 = 56.
GOOD = [
    (b"w,7", Pulse(1, "w", 7, None, 1)),
    (b"w,7*6C", Pulse(1, "w", 7, None, 1)),
    (b"f,12,3*56", Pulse(1, "f", 12, 3, 1)),
    (b"b,007,08", Pulse(1, "b", 7, 8, 1)),
    (b"y,1,2,30", Pulse(1, "y", 1, 2, 30)),
    (b"k,1,2,0", Pulse(1, "k", 1, 2, 0)),
    (b"x,9,70000,5", Pulse(1, "x", 9, 70000, 5)),
    (b"f,9223372036854775807", Pulse(1, "f", 2**63 - 1, None, 1)),
    (b"f," + b"0" * 4000 + b"5", Pulse(1, "f", 5, None, 1)),
    (b"# targets: w=1 f=2", Meta(1, "targets", "w=1 f=2")),
    (b"#started : 2031-04-05T06:07:08Z ", Meta(1, "started", "2031-04-05T06:07:08Z")),
    (b"# just a remark", Meta(1, "", "just a remark")),
    (b"#", Meta(1, "", "")),
    (b"#: odd", Meta(1, "", ": odd")),
    (b"# note: 5 \xc2\xb5s \xff", Meta(1, "note", "5 µs \N{REPLACEMENT CHARACTER}")),
    (b"", None),
]

BAD = [
    (b"w,7*6D", BAD_CHECKSUM),
    (b"w,7,1,0*00", BAD_CHECKSUM),  # told as what it is first: it did not arrive as it was sent
    (b"w,7*6c", CHECKSUM_FORM),
    (b"w,7*", CHECKSUM_FORM),
    (b"w,7*6C*6C", CHECKSUM_FORM),
    (b"w,7*6C ", CHECKSUM_FORM),
    (b"q,7", UNKNOWN_CHANNEL),
    (b"W,7", UNKNOWN_CHANNEL),
    (b"w", NO_FIELDS),
    (b"wf,7", NO_FIELDS),
    (b"hello", NO_FIELDS),
    (b",7", NO_FIELDS),
    (b" w,7", NO_FIELDS),
    (b"w,", NOT_A_NUMBER),
    (b"w,-7", NOT_A_NUMBER),
    (b"w,7,", NOT_A_NUMBER),
    (b"w,7, 8", NOT_A_NUMBER),
    (b"w,1_000", NOT_A_NUMBER),
    (b"w,7,8,9,10", FIELDS),
    (b"w,7,8,0", COUNT_0),
    (b"x,7,8,00", COUNT_0),
    (b"w,9223372036854775808", TOO_LARGE),
    (b"w,7,99999999999999999999", TOO_LARGE),
    (b"w,\xd9\xa7", NOT_ASCII),  # an Arabic seven is a digit elsewhere
    (b"w,7\x00", NOT_ASCII),
    (b"w,\r7", NOT_ASCII),
    (b"w," + b"1" * 4095, TOO_LONG),
    (b"#" + b"x" * 4096, TOO_LONG),
]


@pytest.mark.parametrize(("text", "message"), GOOD)
def test_good_lines(text, message):
    assert read_line(text, 1) == message
    assert read_line(text + b"\r", 1) == message


@pytest.mark.parametrize(("text", "cause"), BAD)
def test_bad_lines_have_a_cause(text, cause):
    message = read_line(text, 7)
    assert isinstance(message, Damaged)
    assert (message.line, message.cause) == (7, cause)
    assert message.text.isascii()
    assert message.text.isprintable()


@pytest.mark.parametrize(("text", "message"), [*GOOD, *((t, None) for t, _ in BAD)])
def test_whole_byte_by_byte_and_with_a_tail(text, message):
    for tail in (b"", b"w,1,1,1,1,1\n# x: y\n", b"f,12,3*56\n"):
        stream = text + b"\n" + tail
        whole = Decoder()
        together = whole.feed(stream) + whole.finish()
        pieces = Decoder()
        singly = [m for byte in stream for m in pieces.feed(bytes([byte]))] + pieces.finish()
        assert singly == together
        assert pieces.tally == whole.tally
        if message is not None:
            assert together[0] == message


@pytest.mark.parametrize("text", [text for text, message in GOOD if isinstance(message, Pulse)])
def test_pulses_read_back(text):
    pulse = read_line(text, 1)
    line = encode_pulse(pulse.channel, pulse.tick, pulse.seq, pulse.count if pulse.seq else None)
    assert line.endswith(b"\n")
    assert read_line(line[:-1], 1) == pulse


@pytest.mark.parametrize("text", [text for text, message in GOOD if isinstance(message, Meta)])
def test_metadata_reads_back(text):
    meta = read_line(text, 1)
    assert read_line(encode_meta(meta.key, meta.value)[:-1], 1) == meta


@pytest.mark.parametrize(
    "fields",
    [("q", 1), ("", 1), ("wf", 1), ("w", -1), ("w", 2**63), ("w", 1, -1), ("w", 1, 2, 0), ("w", 1, None, 2)],
)
def test_encoder_refuses_pulses_that_would_not_read_back(fields):
    with pytest.raises(ValueError, match="channel|below 2|count"):
        encode_pulse(*fields)


@pytest.mark.parametrize(
    ("key", "value"),
    [("a:b", "c"), ("a", "b\nw,1"), ("a", " b"), ("a", "b\r"), ("", "a: b"), (" a", "b"), ("a", "x" * 5000)],
)
def test_encoder_refuses_metadata_that_would_not_read_back(key, value):
    with pytest.raises(ValueError, match="read back"):
        encode_meta(key, value)
