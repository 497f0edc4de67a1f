"""A finding as every command's text shows it: what it says, why, what to try, and where to read on."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

from whorlpulse.findings.catalogue.sensors import EVIDENCE, MORE, SURE, TRY
from whorlpulse.views.finding_words import is_fault, said

if TYPE_CHECKING:
    from whorlpulse.findings.report import Finding
    from whorlpulse.views.layout import Page

_UNDER: Final = " " * 4


def finding_text(finding: Finding, page: Page) -> str:
    """Return a finding's lines; ● is a fault, ○ information."""
    says, evidence, do = said(finding)
    mark = "●" if is_fault(finding) else "○"
    sure = SURE.format(percent=round(100 * finding.confidence)) if finding.confidence < 1.0 else ""
    lines = [_filled(page, f"{says}{sure}", f"  {mark} ")]
    lines += [_filled(page, f"{label} {words}", _UNDER) for label, words in ((EVIDENCE, evidence), (TRY, do)) if words]
    return "\n".join([*lines, f"{_UNDER}{MORE.format(id=finding.id)}"])


def _filled(page: Page, words: str, before: str) -> str:
    return textwrap.fill(words, page.width - 2, initial_indent=before, subsequent_indent=_UNDER)
