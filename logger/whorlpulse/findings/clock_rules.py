"""A clock whose steps are too coarse for a shaft's pulses: then nothing can be said of the shafts themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.estimators.clock_steps import FEWEST_TICKS, coarse_steps
from whorlpulse.findings.catalogue.sensors import SHAFT_NAMES
from whorlpulse.findings.evidence import Facts
from whorlpulse.findings.report import Finding

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure


def clock_too_coarse(facts: Facts) -> Finding | None:
    """Return the finding, None where the clock does. Its evidence is counted, so it is sure."""
    coarse = coarse_steps(facts.conditioned)
    if coarse is None:
        return None
    figures: dict[str, Figure] = {
        "shaft": SHAFT_NAMES[chr(coarse.letter)],
        "ticks": coarse.ticks,
        "needed": FEWEST_TICKS,
        "hertz": coarse.hz,
        "enough": coarse.hz * FEWEST_TICKS / max(coarse.ticks, 0.5),
    }
    return Finding("clock-too-coarse", 1.0, figures)
