"""The words of cadence: sentences of its answer and its notes, with the figures rounded and put in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.findings.catalogue import cadence
from whorlpulse.views.figures import filled, words

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure, Note


def answer(key: str, /, **figures: Figure) -> str:
    """Return a sentence of the answer with these figures in."""
    return filled(cadence.ANSWERS[key], figures)


def note_words(note: Note) -> str:
    """Return a note's sentence, one of cadence's or any other."""
    return filled(cadence.NOTES[note.key], note.figures) if note.key in cadence.NOTES else words(note)
