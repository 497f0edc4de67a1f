"""Figures and words of a comparison's rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.findings.catalogue import compare
from whorlpulse.views import slip_words
from whorlpulse.views.figures import cut, decimals_for, filled, plain

if TYPE_CHECKING:
    from whorlpulse.estimators.difference import Span
    from whorlpulse.findings.comparison import Row
    from whorlpulse.findings.report import Note

#: Ends that lie this much more to one side are shown apart.
_LOPSIDED = 0.1


def shown_span(s: Span | None, factor: float = 1.0, *, alone: bool = False, signed: bool = False) -> str:
    """Return `3.1 ± 0.4`, or `0.5 (0.1 to 2.0)` where the ends lie unevenly, in another unit by `factor`.

    alone: the value only. signed: with + before what is above zero.
    """
    if s is None:
        return compare.UNKNOWN
    value, low, high = (x * factor for x in (s.value, s.low, s.high))
    half = 0.5 * (high - low)
    if not half > 0.0:
        return plain(value)
    decimals = decimals_for(half)
    first = cut(value, decimals)
    if signed and value > 0.0 and not first.startswith("-"):
        first = f"+{first}"
    if alone:
        return first
    if abs((high - value) - (value - low)) > _LOPSIDED * half:
        return f"{first} ({cut(low, decimals)} to {cut(high, decimals)})"
    return f"{first} ± {cut(half, decimals)}"


def label(row: Row, key: str | None = None) -> str:
    """Return the row's name."""
    key = key or ("rhythm-band" if row.band else row.what)
    return compare.ROWS[key].format(order=plain(row.order) if row.order is not None else "")


def changed(row: Row) -> str:
    """Return the row's verdict in a word or two."""
    if row.verdict.kind == "unknown" or row.difference is None:
        return compare.UNKNOWN
    if row.verdict.kind == "none":
        return compare.NO_DIFFERENCE
    word = compare.CHANGED[row.what][row.difference.value < 0.0]
    return compare.SLIGHT.format(changed=word) if row.verdict.kind == "slight" else word


def note_words(note: Note) -> str:
    """Return a note's sentence, one of the comparison's or any other."""
    if note.key not in compare.NOTES:
        return slip_words.note_words(note)
    return filled(compare.NOTES[note.key], note.figures)
