"""Sources of length held against each other, as text and as JSON; they are a part of the twist report."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from whorlpulse.findings.catalogue.sensors import EVIDENCE, TRY
from whorlpulse.views.finding_words import as_object, said
from whorlpulse.views.json_object import estimate
from whorlpulse.views.layout import Page

if TYPE_CHECKING:
    from collections.abc import Sequence

    from whorlpulse.estimators.length_agreement import LengthAgreement
    from whorlpulse.findings.report import Finding

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
        "findings": [as_object(f) for f in findings],
    }
