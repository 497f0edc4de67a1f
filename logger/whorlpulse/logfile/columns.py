"""Many lines of one shape at once: digits and checksums by whole-number arithmetic on words of bytes.

A shape is the grammar's pulse line with every field's width fixed, so that each byte's meaning depends on its
column only. Digits are taken up to eight at a time: as a little-endian word the first digit is the lowest
byte; multiply-and-shift joins neighbours to pairs, pairs to fours, fours to eight. Nothing here decides
that a line is wrong: a line that is not exactly of the shape is merely not ok, and goes to the grammar.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from whorlpulse.logfile.in_turn import in_turn
from whorlpulse.pulses import BoolArray, ByteArray, IntArray
from whorlpulse.wire.checksum import checksum_digits
from whorlpulse.wire.grammar import CHANNELS, PULSE

LF: Final = 10
CR: Final = 13
_COMMA: Final = ord(",")

#: Longest fields that are read in columns; longer ones are left to the grammar.
_TICK_DIGITS: Final = 16
_OTHER_DIGITS: Final = 8
#: Where more than one line in so many has not the number that its place says, the numbers are read.
_MOST_OUT_OF_TURN: Final = 64

Words = npt.NDArray[Any]  # unsigned, of one, two, four or eight bytes
#: Gives the word of so many bytes at this offset from the start of each line, (n,).
WordsAt = Callable[[int, int], Words]

_ZEROS: Final = {n: int.from_bytes(b"0" * n) for n in (1, 2, 4, 8)}
_SIXES: Final = {n: int.from_bytes(b"\x06" * n) for n in _ZEROS}
_HIGH: Final = {n: int.from_bytes(b"\xf0" * n) for n in _ZEROS}


def _known_starts() -> BoolArray:
    known = np.zeros(1 << 16, np.bool_)
    for letter in CHANNELS:
        known[letter | _COMMA << 8] = True
    return known


def _endings(end: int) -> npt.NDArray[np.uint32]:
    """Return (256,): for each value of the checksum the four bytes `*HH` and the line's end, as a word."""
    text = [b"*" + checksum_digits(bytes([value])) + bytes([end]) for value in range(256)]
    return np.frombuffer(b"".join(text), "<u4").astype(np.uint32)


_KNOWN_START: Final = _known_starts()
_ENDING: Final = {end: _endings(end) for end in (LF, CR)}


@dataclass(frozen=True, slots=True)
class Shape:
    """Widths of a line's fields in digits (0: field absent), whether a checksum follows, the byte after."""

    tick: int
    seq: int
    count: int
    checksum: bool
    end: int

    @staticmethod
    def of(line: bytes) -> Shape | None:
        """Return the shape of a line without its LF, None if it has none that is read in columns."""
        end = LF
        if line.endswith(b"\r"):
            line, end = line[:-1], CR
        found = PULSE.fullmatch(line)
        if found is None:
            return None
        _, tick, seq, count, digits = (len(part or b"") for part in found.groups())
        if tick > _TICK_DIGITS or max(seq, count) > _OTHER_DIGITS:
            return None
        return Shape(tick, seq, count, digits > 0, end)


@dataclass(frozen=True, slots=True)
class Columns:
    """Fields of n lines: ok (n,) says where they hold; seq and count are None where the shape has none.

    seq and count are unsigned, of any width that holds them. in_turn: each seq that is ok is the first one and as many
    more as lines lie between.
    """

    ok: BoolArray
    channel: ByteArray
    tick: IntArray
    seq: Words | None
    count: Words | None
    in_turn: bool = False


class _Scan:
    """Reads numbers, and keeps their bytes to see afterwards whether all were digits and what they XOR to."""

    def __init__(self, words_at: WordsAt) -> None:
        self._at = words_at
        self._kept: list[Words] = []
        self._known: ByteArray | None = None

    def number(self, at: int, digits: int) -> Words:
        """Return (n,) the value of a field, unsigned."""
        if digits in (5, 6):  # half the bytes to work on
            return self._joined(at, digits, 4, np.dtype(np.uint32))
        if digits <= 8:
            return self._piece(at, digits)
        return self._joined(at, digits, 8, np.dtype(np.uint64))

    def in_turn(self, at: int, digits: int, ok: BoolArray) -> Words | None:
        """Return (n,) the numbers after the comma at `at` if nearly all go up by one; clear ok for those that don't."""
        found = in_turn(self._at(at, 8), digits)
        if found is None:
            return None
        if found.wrong.any():
            if np.count_nonzero(found.wrong) > len(ok) // _MOST_OUT_OF_TURN:
                return None
            ok &= found.wrong == 0
        self._known = found.xor
        return found.seq

    def _joined(self, at: int, digits: int, low: int, kind: np.dtype[Any]) -> Words:
        """Return the value of more digits than go into one word; `low` of them are the lower part."""
        value: Words = self._piece(at, digits - low).astype(kind)
        value *= 10**low
        value += self._piece(at + digits - low, low)
        return value

    def _piece(self, at: int, digits: int) -> Words:
        """Return (n,) the value of up to eight digits, in an unsigned type just wide enough for their bytes."""
        width = digits if digits <= 2 else 4 if digits <= 4 else 8
        digit: Words = self._at(at, width) ^ _ZEROS[width]
        if digits < width:
            digit <<= 8 * (width - digits)  # drops what stands behind the number and puts zeros in front
        self._kept.append(digit)
        if width == 1:
            return digit
        # Seen as words of two, four, eight bytes in turn, so that what one carries does not reach its neighbours.
        pair = digit.view(np.uint16) * ((10 << 8) + 1)
        pair >>= 8
        if width == 2:
            return pair
        four = pair.view(np.uint32)
        four *= (100 << 16) + 1
        four >>= 16
        if width == 4:
            return four
        eight = four.view(np.uint64)
        eight *= (10_000 << 32) + 1
        eight >>= 32
        return eight

    def only_digits(self, ok: BoolArray) -> None:
        """Clear ok where a byte taken for a digit was none."""
        for x in self._kept:
            if int(x.view(np.uint8).max()) > 9:
                # what is above 9 has a bit in its byte's high half, at the latest when 6 is added
                ok &= (x | x + _SIXES[x.itemsize]) & _HIGH[x.itemsize] == 0

    def exclusive_or(self) -> ByteArray:
        """Return (n,) the exclusive or of all digits' values."""
        folded: Words | None = None
        for width in (8, 4, 2, 1):
            if folded is not None:
                folded = (folded ^ folded >> 8 * width).astype(f"u{width}")
            for x in self._kept:
                if x.itemsize == width:
                    folded = x if folded is None else folded ^ x
        if folded is None:
            raise ValueError("read a number first")
        return folded if self._known is None else folded ^ self._known


def read_columns(words_at: WordsAt, shape: Shape, *, neighbours: bool = False) -> Columns:
    """Return the fields of n lines that are all taken for the given shape.

    words_at: gives the lines' bytes by column; eight bytes from any column must be readable. neighbours: each line
    stands right after the one before. Checks every byte up to the LF, and the checksum where there is one.
    """
    start = words_at(0, 2)
    ok: BoolArray = _KNOWN_START.take(start)
    channel = start.astype(np.uint8)
    scan = _Scan(words_at)
    constant, at = 0, 1  # the comma before the tick is part of the start
    fields: list[Words | None] = []
    in_turn = False
    for digits in (shape.tick, shape.seq, shape.count):
        if not digits:
            fields.append(None)
            continue
        known = scan.in_turn(at, digits, ok) if neighbours and len(fields) == 1 else None
        if known is None and at > 1:
            ok &= words_at(at, 1) == _COMMA
        in_turn |= known is not None
        fields.append(scan.number(at + 1, digits) if known is None else known)
        at += 1 + digits
        constant ^= _COMMA ^ (ord("0") if digits % 2 else 0)
    scan.only_digits(ok)
    if shape.checksum:
        value = scan.exclusive_or() ^ channel
        value ^= constant
        ok &= _ENDING[shape.end].take(value) == words_at(at, 4)
        at += 3
    else:
        ok &= words_at(at, 1) == shape.end
    if shape.end == CR:
        ok &= words_at(at + 1, 1) == LF
    tick, seq, count = fields
    if tick is None:
        raise ValueError("every shape has a tick")
    if count is not None:
        ok &= (count > 0) | (channel == ord("k"))
    return Columns(ok, channel, tick.astype(np.int64, copy=False), seq, count, in_turn)
