"""Messages to bytes: lines that the grammar reads back to the same values, or a refusal."""

from __future__ import annotations

from whorlpulse.wire.checksum import checksum_digits
from whorlpulse.wire.grammar import CHANNELS, LINE_LIMIT, NUMBER_LIMIT, read_line
from whorlpulse.wire.messages import Meta


def encode_pulse(
    channel: str, tick: int, seq: int | None = None, count: int | None = None, *, checksum: bool = True
) -> bytes:
    """Return one pulse line with its LF.

    channel: one of w f b y k x; tick: the board's raw count; seq: sequence number as sent (already wrapped);
    count: pulses that the line stands for, needs seq. Raises ValueError for what would not read back.
    """
    if len(channel) != 1 or channel.encode() not in CHANNELS:
        raise ValueError(f"channel must be one of w f b y k x, not {channel!r}")
    if count is not None and seq is None:
        raise ValueError("a count stands after the sequence number: give seq as well")
    if count == 0 and channel != "k":
        raise ValueError(f"count must be 1 or more on channel {channel}")
    numbers = [tick] + [n for n in (seq, count) if n is not None]
    for number in numbers:
        if not 0 <= number < NUMBER_LIMIT:
            raise ValueError(f"tick, seq and count must be 0 or more and below 2^63, not {number}")
    body = ",".join([channel, *map(str, numbers)]).encode("ascii")
    return body + (b"*" + checksum_digits(body) if checksum else b"") + b"\n"


def encode_meta(key: str, value: str) -> bytes:
    """Return one `#` line with its LF; an empty key makes a free comment.

    Raises ValueError for what would not read back: line ends, blanks at either end, a colon in a key or in a
    comment, more than 4096 bytes.
    """
    text = (f"# {key}: {value}" if key else f"# {value}").rstrip(" ")
    line = text.encode("utf-8", "replace")
    found = read_line(line, 1) if b"\n" not in line and len(line) <= LINE_LIMIT else None
    if found != Meta(1, key, value):
        raise ValueError(f"this would not read back as a metadata line: key {key!r}, value {value!r}")
    return line + b"\n"
