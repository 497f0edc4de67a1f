"""The grammar of the pulse log, format section 1: one line of bytes in, one message out.

Each pattern stands under the rule that it implements. This is the only grammar of the project: readers that
take a short cut for lines of a common shape must hand every other line to `read_line`. No bytes make it
raise.
"""

from __future__ import annotations

import re
from typing import Final

from whorlpulse.wire.checksum import checksum_digits
from whorlpulse.wire.messages import Damaged, Meta, Pulse

#   line longer than this is no line: a stream without LF must not fill the memory
LINE_LIMIT: Final = 4096

#   number = 1*DIGIT             ; below 2^63, so that it stays a whole number in every array
_NUMBER = rb"[0-9]+"
NUMBER_LIMIT: Final = 2**63

#   channel = "w" / "f" / "b" / "y" / "k" / "x"
CHANNELS: Final = b"wfbykx"
_CHANNEL = rb"[" + CHANNELS + rb"]"

#   checksum = "*" 2( DIGIT / "A" / "B" / "C" / "D" / "E" / "F" )
_CHECKSUM = rb"\*([0-9A-F]{2})"

#   pulse = channel "," tick [ "," seq [ "," count ] ] [ checksum ]
PULSE: Final = re.compile(rb"(%b),(%b)(?:,(%b)(?:,(%b))?)?(?:%b)?" % (_CHANNEL, _NUMBER, _NUMBER, _NUMBER, _CHECKSUM))

#   meta = "#" *SP key *SP ":" *SP value *SP      ; a "#" line without a colon is a free comment
_META = re.compile(r"#[ \t]*([^:]*?)[ \t]*:(.*)", re.DOTALL)
BLANKS: Final = " \t\r"

#   the causes of damage, as tallies and messages name them
TOO_LONG: Final = "longer than 4096 bytes"
NOT_ASCII: Final = "not printable ASCII"
UNKNOWN_CHANNEL: Final = "unknown channel"
NOT_A_NUMBER: Final = "tick, seq or count is not a number"
FIELDS: Final = "too many fields"
NO_FIELDS: Final = "not a pulse line"
CHECKSUM_FORM: Final = "checksum is not two upper-case hex digits"
TOO_LARGE: Final = "number too large"
COUNT_0: Final = "count is 0"
REPEATED: Final = "repeated"
BAD_CHECKSUM: Final = "bad checksum"
TORN: Final = "torn"

_TEXT_SHOWN: Final = 80
_PRINTABLE = re.compile(rb"[ -~]*")


def read_line(text: bytes, line: int) -> Pulse | Meta | Damaged | None:
    r"""Return what one line says; None for an empty line.

    text: the line without its LF; one CR at its end is dropped. line: its number, for the message.
    """
    if text.endswith(b"\r"):
        text = text[:-1]
    if not text:
        return None
    if len(text) > LINE_LIMIT:
        return damaged(text, line, TOO_LONG)
    if text.startswith(b"#"):
        return _read_meta(text, line)
    found = PULSE.fullmatch(text)
    if found is None:
        return damaged(text, line, _why_not(text))
    channel, tick, seq, count, digits = found.groups()
    if digits is not None and checksum_digits(text[:-3]) != digits:
        return damaged(text, line, BAD_CHECKSUM)
    tick_n, seq_n, count_n = _whole(tick), _whole(seq), _whole(count)
    if max(tick_n, seq_n, count_n) >= NUMBER_LIMIT:
        return damaged(text, line, TOO_LARGE)
    if count is not None and count_n == 0 and channel != b"k":
        return damaged(text, line, COUNT_0)
    return Pulse(
        line,
        channel.decode("ascii"),
        tick_n,
        None if seq is None else seq_n,
        1 if count is None else count_n,
    )


def damaged(text: bytes, line: int, cause: str) -> Damaged:
    """Return the message for a line that says nothing usable; its start is escaped to printable ASCII."""
    return Damaged(line, cause, repr(text[:_TEXT_SHOWN])[2:-1])


def seq_bits_of(value: str) -> int | None:
    """Return the width that a `seq_bits` line gives, 0 to 62 (0: never wraps), or None if it gives none."""
    if not (value.isascii() and value.isdigit() and len(value) <= 4):
        return None
    bits = int(value)
    return bits if bits <= 62 else None


def _read_meta(text: bytes, line: int) -> Meta:
    words = text.decode("utf-8", "replace")
    found = _META.fullmatch(words)
    if found is None or not found[1].strip(BLANKS):
        return Meta(line, "", words[1:].strip(BLANKS))
    return Meta(line, found[1].strip(BLANKS), found[2].strip(BLANKS))


def _whole(digits: bytes | None) -> int:
    if digits is None:
        return 0
    significant = digits.lstrip(b"0")
    # int() of thousands of digits is slow and may be refused by the interpreter; 19 decide already
    return int(significant or b"0") if len(significant) <= 19 else NUMBER_LIMIT


def _why_not(text: bytes) -> str:
    """Return the first rule that the line breaks, read from the left."""
    if not _PRINTABLE.fullmatch(text):
        return NOT_ASCII
    body, star, _ = text.partition(b"*")
    channel, *numbers = body.split(b",")
    if len(channel) != 1 or not numbers:
        return NO_FIELDS
    if channel not in CHANNELS:
        return UNKNOWN_CHANNEL
    if len(numbers) > 3:
        return FIELDS
    if not all(number.isdigit() for number in numbers):
        return NOT_A_NUMBER
    return CHECKSUM_FORM if star else NOT_A_NUMBER
