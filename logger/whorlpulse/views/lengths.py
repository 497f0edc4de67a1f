"""Sources of length held against each other, as text and as JSON; they are a part of the twist report."""

from __future__ import annotations

import textwrap
from string import Formatter
from typing import TYPE_CHECKING, Any

from whorlpulse.findings.catalogue.sensors import EVIDENCE, TRY
from whorlpulse.findings.catalogue.yarn_length import FINDINGS
from whorlpulse.views.figures import as_text
from whorlpulse.views.finding_words import Said, keyed
from whorlpulse.views.json_object import estimate
from whorlpulse.views.layout import Page

if TYPE_CHECKING:
    from collections.abc import Sequence

    from whorlpulse.estimators.length_agreement import LengthAgreement
    from whorlpulse.findings.report import Figure, Finding

_UNDER = " " * 4


def findings_text(findings: Sequence[Finding], page: Page) -> str | None:
    """Return what was found, why, and what could explain it; None where nothing was."""
    blocks = []
    for finding in findings:
        says, evidence, do = said(finding)
        blocks.append(textwrap.fill(says, page.width - 2, initial_indent="  ● ", subsequent_indent=_UNDER))
        for label, words in ((EVIDENCE, evidence), (TRY, do)):
            blocks.append(
                textwrap.fill(f"{label} {words}", page.width - 2, initial_indent="    ", subsequent_indent="    ")
            )
    return "\n".join(blocks) if blocks else None


def said(finding: Finding) -> Said:
    """Return a finding's words; sentences of the evidence whose figures are not known are left out."""
    entry = FINDINGS[finding.id]
    known = [s for s in entry.evidence if _names(s) <= finding.figures.keys()]
    return Said(*(_filled(s, finding.figures) for s in (entry.says, " ".join(known), entry.do)))


def json_agreement(found: LengthAgreement | None, findings: Sequence[Finding]) -> dict[str, Any]:
    """Return the keys `lengths` (the pairs compared) and `findings` of the twist object."""
    return {
        "lengths": [
            {
                "first": p.first,
                "second": p.second,
                "first_m": estimate(p.first_m),
                "second_m": estimate(p.second_m),
                "apart_percent": estimate(p.apart, 100.0),
                "agree": p.agree,
            }
            for p in (found.pairs if found is not None else ())
        ],
        "findings": [keyed(f, said(f), fault=True) for f in findings],
    }


def _filled(text: str, figures: dict[str, Figure]) -> str:
    return text.format_map({name: as_text(figure) for name, figure in figures.items()})


def _names(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name}
