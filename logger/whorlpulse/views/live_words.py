"""The words of the live view: sentences of its catalogue, and those of the reports for notes of theirs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.findings.catalogue.cadence import NOTES as CADENCE_NOTES
from whorlpulse.findings.catalogue.live import LIVE
from whorlpulse.findings.catalogue.slip import NOTES as SLIP_NOTES
from whorlpulse.views.figures import as_text, says

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure, Note


def live_says(key: str, /, **figures: Figure) -> str:
    """Return a sentence of the live view with these figures in."""
    return LIVE[key].format_map({name: as_text(figure) for name, figure in figures.items()})


def live_note(note: Note) -> str:
    """Return a note's sentence, from the live catalogue or that of the report that it comes from."""
    for catalogue in (LIVE, SLIP_NOTES, CADENCE_NOTES):
        if note.key in catalogue:
            filled = {name: as_text(figure) for name, figure in note.figures.items()}
            return catalogue[note.key].format_map(filled)
    return says(note.key, **note.figures)
