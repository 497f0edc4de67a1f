"""Sequence numbers that go up by one from line to line, which nearly all do: compared, not read.

The text of every number is known beforehand, so a column of numbers in turn is checked by one comparison with a piece
of a table, and its values and their part in the checksum are pieces of tables too.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from whorlpulse.pulses import ByteArray

#: Numbers that have a text in the table; larger ones are read digit by digit.
_NUMBERS: Final = 1 << 16
_MOST_DIGITS: Final = len(str(_NUMBERS - 1))
_COMMA: Final = ord(",")


@dataclass(frozen=True, slots=True)
class InTurn:
    """A column of numbers that go up by one: seq (n,), xor (n,) of their digits' values.

    wrong (n,) uint64 is 0 where the line has this number and the comma before it.
    """

    seq: npt.NDArray[np.uint32]
    xor: ByteArray
    wrong: npt.NDArray[np.uint64]


def in_turn(words: npt.NDArray[np.uint64], digits: int) -> InTurn | None:
    """Compare a column with the numbers that go up by one from the first line's.

    words (n,): eight bytes of each line, from the comma before the number on. None where the first number is none, or
    the table does not reach so far.
    """
    if digits > _MOST_DIGITS:
        return None
    text = int(words[0]).to_bytes(8, "little")[1 : 1 + digits]
    if not text.isdigit() or (digits > 1 and text.startswith(b"0")):
        return None
    first, lowest = int(text), 10 ** (digits - 1) if digits > 1 else 0
    piece = slice(first - lowest, first - lowest + len(words))
    seq, xor, expected = _table(digits)
    if piece.stop > len(seq):
        return None
    wrong = words ^ expected[piece]
    wrong <<= np.uint64(8 * (7 - digits))  # what stands behind the number goes
    return InTurn(seq[piece], xor[piece], wrong)


@lru_cache(_MOST_DIGITS)
def _table(digits: int) -> tuple[npt.NDArray[np.uint32], ByteArray, npt.NDArray[np.uint64]]:
    """Return all numbers of so many digits, the exclusive or of their digits' values, and comma and text as a word."""
    lowest = 10 ** (digits - 1) if digits > 1 else 0
    number = np.arange(lowest, min(10**digits, _NUMBERS), dtype=np.uint32)
    xor = np.zeros(len(number), np.uint8)
    word = np.full(len(number), _COMMA, np.uint64)
    for place in range(digits):
        value = (number // np.uint32(10 ** (digits - 1 - place)) % np.uint32(10)).astype(np.uint8)
        xor ^= value
        word |= (value | np.uint8(ord("0"))).astype(np.uint64) << np.uint64(8 * (place + 1))
    return number, xor, word
