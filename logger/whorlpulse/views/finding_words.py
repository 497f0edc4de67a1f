"""A finding in words: its sentences from the catalogue with the figures rounded and put in."""

from __future__ import annotations

from string import Formatter
from typing import TYPE_CHECKING, Any, NamedTuple

from whorlpulse.findings.catalogue import sensors
from whorlpulse.views.figures import as_text, words

if TYPE_CHECKING:
    from whorlpulse.findings.report import Finding, Note


class Said(NamedTuple):
    """What a finding says, why, and what to try."""

    says: str
    evidence: str
    do: str


def said(finding: Finding) -> Said:
    """Return a finding's words; sentences of the evidence whose figures are not known are left out."""
    entry = sensors.FINDINGS[finding.id]
    put_in = _Figures()
    says, do = (put_in.vformat(sentence, (), finding.figures) for sentence in (entry.says, entry.do))
    known = [sentence for sentence in entry.evidence if _names(sentence) <= finding.figures.keys()]
    return Said(says, " ".join(put_in.vformat(sentence, (), finding.figures) for sentence in known), do)


class _Figures(Formatter):
    """Puts figures into sentences, rounded; `{places:place}` puts the noun behind the number, in the plural if due."""

    def format_field(self, value: Any, format_spec: str) -> str:
        shown = as_text(value)
        if not format_spec:
            return shown
        return f"{shown} {format_spec}" + ("" if value == 1 else "s")


def is_fault(finding: Finding) -> bool:
    """Tell a fault from information."""
    return finding.id not in sensors.INFORMATION


def note_words(note: Note) -> str:
    """Return a note's sentence, one of the sensors' or any other."""
    if note.key not in sensors.NOTES:
        return words(note)
    return _Figures().vformat(sensors.NOTES[note.key], (), note.figures)


def as_object(finding: Finding) -> dict[str, Any]:
    """Return a finding's keys of format section 4, with its figures beside them."""
    return keyed(finding, said(finding), fault=is_fault(finding))


def keyed(finding: Finding, words_said: Said, *, fault: bool) -> dict[str, Any]:
    """Return the keys of a finding whose words are known."""
    says, evidence, do = words_said
    return {
        "id": finding.id,
        "says": says,
        "confidence": round(finding.confidence, 2),
        "evidence": evidence,
        "try": do,
        "kind": "fault" if fault else "information",
        "figures": {name: _value(figure) for name, figure in finding.figures.items()},
    }


def _names(sentence: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(sentence) if name}


def _value(figure: Any) -> Any:
    return figure if isinstance(figure, int | float | str) else {"value": figure.value, "u": figure.u}
