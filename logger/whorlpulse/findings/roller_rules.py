"""What is said of a roller whose sensor misses pulses: a finding of `check`, a note of `twist`."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

import numpy as np

from whorlpulse.conditioning.roller_mending import unseen
from whorlpulse.findings.report import Finding, Note, note
from whorlpulse.pulses import ROLLER, Flag

if TYPE_CHECKING:
    from whorlpulse.conditioning.chain import Conditioned
    from whorlpulse.findings.evidence import Facts
    from whorlpulse.findings.report import Figure

#: The log's own waits show it (`roller_mending`), but no other shaft bears it out.
_CONFIDENCE: Final = 0.9


def roller_misses(facts: Facts) -> Iterator[Finding]:
    """Yield how many of the roller's pulses were missed and put in."""
    train = facts.conditioned.trains[ROLLER]
    put_in = int(np.count_nonzero(train.flag & Flag.FILLED))
    if put_in:
        more, _ = unseen([p.counted for p in facts.conditioned.rolls])
        percent = 100.0 * (put_in + more) / (len(train) + more)
        figures: dict[str, Figure] = {
            "missed": put_in,
            "more": round(more),
            "pulses": len(train) - put_in,
            "percent": percent,
        }
        yield Finding("roller-missed-pulses", _CONFIDENCE, figures)


def roller_notes(conditioned: Conditioned) -> list[Note]:
    """Return what was done to the roller's pulses, if anything was."""
    put_in = int(np.count_nonzero(conditioned.trains[ROLLER].flag & Flag.FILLED))
    if put_in == 0:
        return []
    more, _ = unseen([p.counted for p in conditioned.rolls])
    return [note("roller-mended", missed=put_in, more=round(more))]
