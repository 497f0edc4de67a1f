"""The words of the live view: sentences of its catalogue, and those of the reports for notes of theirs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.findings.catalogue.cadence import NOTES as CADENCE_NOTES
from whorlpulse.findings.catalogue.live import LIVE
from whorlpulse.findings.catalogue.slip import NOTES as SLIP_NOTES
from whorlpulse.views.figures import filled, says

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure, Note


def live_says(key: str, /, **figures: Figure) -> str:
    """Return a sentence of the live view with these figures in."""
    return filled(LIVE[key], figures)


def live_note(note: Note) -> str:
    """Return a note's sentence, from the live catalogue or that of the report that it comes from."""
    for catalogue in (LIVE, SLIP_NOTES, CADENCE_NOTES):
        if note.key in catalogue:
            return filled(catalogue[note.key], note.figures)
    return says(note.key, **note.figures)
