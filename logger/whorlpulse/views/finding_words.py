"""A finding in words, whichever command found it: its sentences with the figures rounded and put in."""

from __future__ import annotations

from string import Formatter
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from whorlpulse.findings.catalogue import sample, sensors, slip, yarn_length
from whorlpulse.views.figures import filled, words

if TYPE_CHECKING:
    from whorlpulse.findings.report import Finding, Note


_FINDINGS: Final = {**sensors.FINDINGS, **slip.FINDINGS, **sample.FINDINGS, **yarn_length.FINDINGS}
_INFORMATION: Final = sensors.INFORMATION | slip.INFORMATION


class Said(NamedTuple):
    """What a finding says, why, and what to try."""

    says: str
    evidence: str
    do: str


def said(finding: Finding) -> Said:
    """Return a finding's words; sentences of the evidence whose figures are not known are left out."""
    entry = _FINDINGS[finding.id]
    known = [sentence for sentence in entry.evidence if _names(sentence) <= finding.figures.keys()]
    return Said(*(filled(text, finding.figures) for text in (entry.says, " ".join(known), entry.do)))


def is_fault(finding: Finding) -> bool:
    """Tell a fault from information."""
    return finding.id not in _INFORMATION


def note_words(note: Note) -> str:
    """Return a note's sentence, one of the sensors' or any other."""
    if note.key not in sensors.NOTES:
        return words(note)
    return filled(sensors.NOTES[note.key], note.figures)


def as_object(finding: Finding) -> dict[str, Any]:
    """Return a finding's keys of format section 4, with its figures beside them."""
    says, evidence, do = said(finding)
    return {
        "id": finding.id,
        "says": says,
        "confidence": round(finding.confidence, 2),
        "evidence": evidence,
        "try": do,
        "kind": "fault" if is_fault(finding) else "information",
        "figures": {name: _value(figure) for name, figure in finding.figures.items()},
    }


def _names(sentence: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(sentence) if name}


def _value(figure: Any) -> Any:
    return figure if isinstance(figure, int | float | str) else {"value": figure.value, "u": figure.u}
