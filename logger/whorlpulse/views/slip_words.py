"""The words of slip: sentences of its answer and its notes, with the figures rounded and put in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.findings.catalogue import slip
from whorlpulse.views.figures import filled, words

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure, Note


def answer(key: str, /, **figures: Figure) -> str:
    """Return a sentence of the answer with these figures in."""
    return filled(slip.ANSWERS[key], figures)


def note_words(note: Note) -> str:
    """Return a note's sentence, one of slip's or any other."""
    return filled(slip.NOTES[note.key], note.figures) if note.key in slip.NOTES else words(note)
