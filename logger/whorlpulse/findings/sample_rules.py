"""What could explain that the yarn's twist is not the log's: hypotheses with their size, never a certainty.

Confidences are judgements. One is above 0.5 only where a figure of its own (a bobbin's diameter, a measured shortening)
says that its size fits; where such a figure says that it doesn't fit, the explanation is left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from whorlpulse.estimators.agreement import Agreement
from whorlpulse.estimators.measured import Measured, quotient
from whorlpulse.estimators.winding import over_end_twist_tpm
from whorlpulse.findings.report import Finding
from whorlpulse.rig import Length

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure

#: Bobbins and balls between these diameters in metres are thought of when none is given (common practice, no source).
_BOBBINS_M = (0.01, 0.15)
#: No hand-spun yarn is thought to contract by more than this part (common practice, no source).
_MOST_CONTRACTION = 0.15


@dataclass(frozen=True)
class Clues:
    """What is known besides: bobbin: least and greatest diameter in metres the samples were drawn off, over its end.

    shortening: measured retraction of the samples. length: of the log. roller: what its turn was taken for, where the
    length is the roller's.
    """

    bobbin: tuple[float, float] | None = None
    shortening: Measured | None = None
    length: Measured | None = None
    roller: Length | None = None


def explanations(yarn: Measured, log: Measured, found: Agreement, clues: Clues) -> tuple[Finding, ...]:
    """Return what could explain a disagreement, likeliest first; nothing where they don't disagree."""
    if found.verdict != "disagree":
        return ()
    apart = found.difference
    named = (
        _over_end(apart, clues),
        _contraction(yarn, log, clues),
        _length(yarn, log, clues),
        _turns_lost(yarn, log),
    )
    return tuple(sorted((f for f in named if f is not None), key=lambda f: -f.confidence))


def _over_end(apart: Measured, clues: Clues) -> Finding | None:
    size = abs(apart.value)
    figures: dict[str, Figure] = {"apart": Measured(size, apart.u, apart.dof)}
    if clues.bobbin is None:
        would = 1.0 / (math.pi * size)
        if not _BOBBINS_M[0] <= would <= _BOBBINS_M[1]:
            return None
        return Finding("sample-over-end", 0.4, {**figures, "would_cm": 100.0 * would})
    least, most = clues.bobbin
    low, high = over_end_twist_tpm(most), over_end_twist_tpm(least)
    if size + apart.half_width < low or size - apart.half_width > high:
        return None
    bobbin = f"{100.0 * least:g}" if least == most else f"{100.0 * least:g} to {100.0 * most:g}"
    return Finding("sample-over-end", 0.6, {**figures, "bobbin": bobbin, "low": low, "high": high})


def _contraction(yarn: Measured, log: Measured, clues: Clues) -> Finding | None:
    """More twist on the yarn than in the log: per drafted length it is less, by the retraction."""
    kept = quotient(log, yarn)
    if kept.low > 1.0 or 1.0 - kept.high > _MOST_CONTRACTION or kept.value >= 1.0:
        return None
    figures: dict[str, Figure] = {"percent": Measured(100.0 * (1.0 - kept.value), 100.0 * kept.u, kept.dof)}
    shown = clues.shortening
    if shown is None:
        return Finding("sample-contraction", 0.4, figures)
    if shown.high < 1.0 - kept.high or shown.low > 1.0 - kept.low:
        return None
    return Finding("sample-contraction", 0.6, {**figures, "shown": shown.times(100.0)})


def _length(yarn: Measured, log: Measured, clues: Clues) -> Finding | None:
    if clues.length is None:
        return None
    factor = quotient(log, yarn)
    figures: dict[str, Figure] = {
        "logged": clues.length,
        "would": quotient(Measured(clues.length.value * log.value, 0.0), yarn),
    }
    if clues.roller is not None:
        turn = Measured(100.0 * clues.roller.m, 100.0 * clues.roller.m_u)
        figures |= {"roller_cm": turn, "would_cm": factor.times(turn.value)}
    return Finding("sample-length", 0.5 if factor.value > 1.0 else 0.4, figures)


def _turns_lost(yarn: Measured, log: Measured) -> Finding | None:
    if yarn.value >= log.value:
        return None
    kept = quotient(yarn, log)
    return Finding(
        "sample-turns-lost", 0.3, {"percent": Measured(100.0 * (1.0 - kept.value), 100.0 * kept.u, kept.dof)}
    )
