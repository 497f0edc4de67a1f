"""A wrong number of targets, by ratios that are known: the ratio as counted is a simple multiple of one of them.

Two targets counted as one double the ratio, one counted as two halves it; no band does either. Known are a ratio
given, another log's, and the wheel file's whorls. Which shaft is counted wrongly the ratio alone can't say: where the
treadle's rhythm bears out the wheel's number, it is the flyer's.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Final

from whorlpulse.estimators.slip_slides import find_slides
from whorlpulse.findings.evidence import Facts
from whorlpulse.findings.report import Finding
from whorlpulse.findings.silence import silences
from whorlpulse.pulses import FLYER, WHEEL

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure

#: What a ratio counted right may be off a known one (shares of it): above, and below by slip.
_ABOVE: Final = 0.12
_SLIPS: Final = 0.45
#: The same for a multiple, so that it is a better story.
_NEAR_ABOVE: Final = 0.03
_NEAR_BELOW: Final = 0.10
#: As counted over as it is; the likeliest first.
_MULTIPLES: Final = tuple(Fraction(a, b) for a, b in ((2, 1), (1, 2), (3, 1), (1, 3), (4, 1), (1, 4), (3, 2), (2, 3)))
_MOST_TARGETS: Final = 16


def counts_against_known(facts: Facts, known: Sequence[float]) -> Iterator[Finding]:
    """Yield a wrong number of targets of one shaft, where the ratio fits none of the known ones but a multiple does.

    A whorl that the wheel file does not have is no wrong count: one stretch of the log that fits clears them all.
    """
    ratio = facts.ratio
    if ratio is None or not known:
        return
    if any(_fits(r, k, _ABOVE, _SLIPS) for r in (ratio, *facts.stretch_ratios) for k in known):
        return
    multiple, near = next(
        ((m, k) for m in _MULTIPLES for k in known if _fits(ratio / float(m), k, _NEAR_ABOVE, _NEAR_BELOW)),
        (None, 0.0),
    )
    if multiple is None:
        return
    if find_slides(facts.conditioned) is not None or any(s.stood for s in silences(facts, FLYER)):
        return  # a band that slides makes any ratio
    flyer, wheel = multiple * facts.targets(FLYER), facts.targets(WHEEL) / multiple
    borne_out = _wheel_borne_out(facts)
    figures: dict[str, Figure] = {"ratio_then": ratio / float(multiple), "known": near}
    if _possible(flyer) and (borne_out or not _possible(wheel)):
        found, stated = int(flyer), facts.targets(FLYER)
        yield Finding("flyer-targets", 0.95 if borne_out else 0.8, {"found": found, "stated": stated, **figures})
    elif _possible(flyer):
        found, stated = int(flyer), facts.targets(FLYER)
        yield Finding("flyer-targets", 0.8, {"found": found, "stated": stated, **figures})
    elif _possible(wheel) and not borne_out:
        found, stated = int(wheel), facts.targets(WHEEL)
        yield Finding("wheel-targets", 0.7, {"found": found, "stated": stated, **figures})


def _fits(ratio: float, known: float, above: float, below: float) -> bool:
    return (1.0 - below) * known < ratio < (1.0 + above) * known


def _possible(targets: Fraction) -> bool:
    return targets.denominator == 1 and 1 <= targets <= _MOST_TARGETS


def _wheel_borne_out(facts: Facts) -> bool:
    """Whether the wheel's own gaps or the rhythm of the feet say that its number of targets is right."""
    rhythm, gaps, stated = facts.rhythm, facts.wheel_gaps, facts.targets(WHEEL)
    if gaps is not None:
        return gaps == stated
    return rhythm is not None and rhythm.pulses_a_push is not None and rhythm.fits(stated)
