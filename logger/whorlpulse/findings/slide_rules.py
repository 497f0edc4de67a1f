"""A band that slides for long: what is said of it, and what is then not said.

Creep, drag, a reference that is off and a rhythm are read from turns in which the band holds but for bursts. Where it
slides in a good part of them, they would be read from the sliding.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from whorlpulse.estimators.slip_slides import Slides
from whorlpulse.findings.report import Finding

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure

_READ_FROM_SLIDING: Final = frozenset(
    {"band-creeps", "drag", "reference-off", "periodic-loss", "band-joint", "wheel-untrue", "band-healthy"}
)
_OFTEN: Final = 2  # slides; a single one may also be a sensor that failed bit by bit


def with_slides(findings: Sequence[Finding], slides: Slides | None, *, stood: bool) -> tuple[Finding, ...]:
    """Return slip's findings with what the slides say in front. stood: the flyer stood while the wheel turned on."""
    if slides is None:
        return tuple(f for f in findings if not stood or f.id not in _READ_FROM_SLIDING)
    figures: dict[str, Figure] = {
        "percent": 100.0 * slides.turns / slides.of,
        "lost": slides.lost,
        "times": slides.times,
        "best": slides.best,
        "from_s": slides.from_s,
        "to_s": slides.to_s,
    }
    said = Finding("band-slides", 0.95 if stood or slides.times >= _OFTEN else 0.7, figures)
    return (said, *(f for f in findings if f.id not in _READ_FROM_SLIDING))
