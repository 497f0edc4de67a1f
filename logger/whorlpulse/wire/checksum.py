"""The checksum of a line: the rule of NMEA 0183, without its dollar sign.

NMEA 0183: the exclusive or of all bytes of the sentence body, written as two upper-case hexadecimal digits
after an asterisk. A pulse line has no `$` in front, so the body is everything before the `*`.
"""

from __future__ import annotations

from functools import reduce
from operator import xor
from typing import Final

_HEX: Final = tuple(b"%02X" % value for value in range(256))


def xor_of(body: bytes) -> int:
    """Return the exclusive or of all bytes of `body`, 0 to 255 (0 for no bytes)."""
    return reduce(xor, body, 0)


def checksum_digits(body: bytes) -> bytes:
    """Return the two upper-case hexadecimal digits that belong after the `*` of `body`."""
    return _HEX[xor_of(body)]
