"""Slip that is meant: in a bobbin-led wheel and in double drive the flyer falls behind while yarn winds on.

With the bobbin's pulses that is taken out before anything is judged (`estimators.driven_shaft`). Without them a burst,
a creep that goes with winding on, and a ratio beside the reference may all be design, so they are not said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from whorlpulse.estimators.slip import SlipEstimate
from whorlpulse.findings.report import Finding
from whorlpulse.rig import Rig

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure

#: What a flyer that falls behind by design would look like.
_LOOKS_LIKE_DESIGN: Final = frozenset({"band-creeps", "drag", "reference-off"})


def blurs(found: SlipEstimate, rig: Rig) -> bool:
    """Whether slip by design is in the figures, because no bobbin told how much of it there is."""
    return rig.tension != "scotch" and found.give is None


def while_held(found: SlipEstimate) -> SlipEstimate:
    """Return the estimate with only those bursts during which, as the roller tells, nothing was wound on."""
    return replace(found, bursts=tuple(b for b in found.bursts if b.winding is False))


def unblurred(findings: Sequence[Finding]) -> list[Finding]:
    """Return the findings that design does not explain; bursts are half as sure."""
    kept = [f for f in findings if f.id not in _LOOKS_LIKE_DESIGN]
    return [replaced_confidence(f, 0.5) if f.id == "slip-bursts" else f for f in kept]


def replaced_confidence(finding: Finding, factor: float) -> Finding:
    """Return the finding, less sure by a factor."""
    return Finding(finding.id, factor * finding.confidence, finding.figures)


def of_tension(found: SlipEstimate, rig: Rig, bobbin: float | None) -> Iterator[Finding]:
    """Yield what the tension makes of slip: which shaft was looked at, or that it can't be told.

    bobbin: its turns for each of the flyer's, None where it is not sensed.
    """
    if rig.tension == "scotch" and found.give is None:
        return
    figures: dict[str, Figure] = {} if bobbin is None else {"bobbin": bobbin}
    led = rig.tension != "double-drive" and (found.give is None or found.give.value == 1.0)
    if found.give is None:
        yield Finding("bobbin-led-unseen" if led else "double-drive-unseen", 0.9, figures)
    elif led:
        yield Finding("bobbin-driven", 0.9, figures)
    else:
        yield Finding("double-drive", 0.9, {**figures, "share": found.give.times(100.0)})
