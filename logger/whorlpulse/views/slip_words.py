"""The words of slip: notes and findings from its catalogue, those of the sensors from theirs."""

from __future__ import annotations

from string import Formatter
from typing import TYPE_CHECKING, Any

from whorlpulse.findings.catalogue import slip
from whorlpulse.views import finding_words
from whorlpulse.views.figures import as_text, words
from whorlpulse.views.finding_words import Said

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure, Finding, Note


def answer(key: str, /, **figures: Figure) -> str:
    """Return a sentence of the answer with these figures in."""
    return _filled(slip.ANSWERS[key], figures)


def note_words(note: Note) -> str:
    """Return a note's sentence, one of slip's or any other."""
    return _filled(slip.NOTES[note.key], note.figures) if note.key in slip.NOTES else words(note)


def said(finding: Finding) -> Said:
    """Return a finding's words; sentences of the evidence whose figures are not known are left out."""
    entry = slip.FINDINGS.get(finding.id)
    if entry is None:
        return finding_words.said(finding)
    known = [sentence for sentence in entry.evidence if _names(sentence) <= finding.figures.keys()]
    evidence = " ".join(_filled(sentence, finding.figures) for sentence in known)
    return Said(_filled(entry.says, finding.figures), evidence, _filled(entry.do, finding.figures))


def is_fault(finding: Finding) -> bool:
    """Tell a fault from information."""
    if finding.id in slip.FINDINGS:
        return finding.id not in slip.INFORMATION
    return finding_words.is_fault(finding)


def as_object(finding: Finding) -> dict[str, Any]:
    """Return a finding's keys of format section 4, with its figures beside them."""
    if finding.id not in slip.FINDINGS:
        return finding_words.as_object(finding)
    return finding_words.keyed(finding, said(finding), fault=is_fault(finding))


def _filled(sentence: str, figures: dict[str, Figure]) -> str:
    return sentence.format_map({name: as_text(figure) for name, figure in figures.items()})


def _names(sentence: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(sentence) if name}
