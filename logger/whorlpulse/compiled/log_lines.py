"""Pulse lines that are whole and in turn, byte by byte: what the decoder's grammar says of nearly every line."""

from __future__ import annotations

import numpy as np

from whorlpulse.compiled.part import part
from whorlpulse.pulses import ByteArray, IntArray

#: More digits than this might not fit into 63 bits.
_MOST_DIGITS = np.uint64(18)
#: Places are unsigned: a compiler need not ask whether they are counted from the end.
_1, _2, _3 = np.uint64(1), np.uint64(2), np.uint64(3)
_COMMA, _ZERO, _LETTERS = np.uint8(44), np.uint8(48), np.uint8(55)


def read_lines(
    text: ByteArray, at: int, stop: int, watch: IntArray, tick: IntArray, channel: ByteArray, counts: IntArray
) -> np.int64:
    """Read lines from `at` on until one is not plainly a pulse that follows its neighbour; return where that begins.

    text: bytes, the one before `stop` an LF, some to spare after it. tick (n,), channel (n,): filled, at most n lines.
    counts (2, n): filled with the lines that stand for another number of pulses than one, and that number. watch (10,)
    says: mask of the numbers, number before, if there was one, if a line without may follow; and is told, from 3 on:
    lines, counts, keep-alives, overruns; the last numbered line's number, channel (0: there was none), tick.
    """
    lines = counted = keep_alives = overruns = 0
    mask, before, numbered, calm = watch[0], watch[1], watch[2] != 0, watch[3] != 0
    watch[8], here, end = 0, np.uint64(at), np.uint64(stop)
    while here < end and lines < len(tick):
        letter, begin = text[here], here + _2
        known = letter == 102 or letter == 119 or letter == 107 or letter == 121 or letter == 98 or letter == 120
        if not known or text[here + _1] != _COMMA:
            break
        p, value, folded = number_at(text, begin, letter ^ _COMMA)
        if p == begin or p - begin > _MOST_DIGITS or (not calm and text[p] != _COMMA):
            break
        number, pulses = np.int64(-1), np.int64(1)
        if text[p] == _COMMA:
            begin = p + _1
            p, number, folded = number_at(text, begin, folded ^ _COMMA)
            follows = numbered and (number - before - 1) & mask == 0
            if p == begin or p - begin > _MOST_DIGITS or not follows:
                break
            if text[p] == _COMMA:
                begin = p + _1
                p, pulses, folded = number_at(text, begin, folded ^ _COMMA)
                if p == begin or p - begin > _MOST_DIGITS or (pulses == 0 and letter != 107):
                    break
        skipped = ending(folded, text[p], text[p + _1], text[p + _2], text[p + _3], text[p + _3 + _1])
        if skipped == 0:
            break
        tick[lines] = value
        channel[lines] = letter
        if pulses != 1:
            counts[0, counted], counts[1, counted] = lines, pulses
            counted += 1
        keep_alives += letter == 107
        overruns += letter == 120
        if number >= 0:
            before, watch[8], watch[9] = number, letter, value
        calm, here = True, p + skipped
        lines += 1
    watch[3], watch[4], watch[5], watch[6], watch[7] = lines, counted, keep_alives, overruns, before
    return np.int64(here)


@part
def number_at(text: ByteArray, p: np.uint64, folded: np.uint8) -> tuple[np.uint64, np.int64, np.uint8]:
    """Return where the digits from p on end, their value, if they are not too many, and folded with them."""
    value = np.int64(0)
    while np.uint8(text[p] - _ZERO) < 10:
        folded ^= text[p]
        value = value * 10 + np.int64(text[p] - _ZERO)
        p += _1
    return p, value, folded


@part
def ending(folded: np.uint8, a: np.uint8, b: np.uint8, c: np.uint8, d: np.uint8, e: np.uint8) -> np.uint64:
    """Return how long the line's end is, LF included, whose next bytes are these; 0 where it is none.

    folded: the exclusive or of all bytes before, which the two digits after a `*` must say.
    """
    if a == 10:
        return _1
    if a == 13:
        return _2 if b == 10 else _1 - _1
    high, low = folded >> np.uint8(4), folded & np.uint8(15)
    high += _ZERO if high < 10 else _LETTERS
    low += _ZERO if low < 10 else _LETTERS
    if a != 42 or b != high or c != low:
        return _1 - _1
    if d == 10:
        return _3 + _1
    return _3 + _2 if d == 13 and e == 10 else _1 - _1
