"""The result of `slip`: what was estimated, what follows from it, and what is said beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    from whorlpulse.estimators.slip import SlipEstimate
    from whorlpulse.findings.report import Finding, Note


class SlipReport(msgspec.Struct, frozen=True):
    """Answer to `slip`. found: None where the log could not be counted; cannot_say: why there is no answer."""

    capture: str
    found: SlipEstimate | None = None
    findings: tuple[Finding, ...] = ()
    cannot_say: Note | None = None
    notes: tuple[Note, ...] = ()
