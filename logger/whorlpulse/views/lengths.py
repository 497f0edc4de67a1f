"""Sources of length held against each other, as text and as JSON; they are a part of the twist report."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from whorlpulse.views.finding_text import finding_text
from whorlpulse.views.finding_words import as_object
from whorlpulse.views.json_object import estimate
from whorlpulse.views.layout import Page

if TYPE_CHECKING:
    from collections.abc import Sequence

    from whorlpulse.estimators.length_agreement import LengthAgreement
    from whorlpulse.findings.report import Finding

_UNDER = " " * 4


def findings_text(findings: Sequence[Finding], page: Page) -> str | None:
    """Return what was found, why, and what could explain it; None where nothing was."""
    return "\n".join(finding_text(f, page) for f in findings) or None


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
