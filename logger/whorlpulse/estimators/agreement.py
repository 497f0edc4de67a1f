"""Whether two measured values agree, and where one stands against a range: by their 95 % intervals alone.

"No difference shown" is not "the same". Two values agree here when the whole interval of their difference lies within
a margin that wouldn't matter; they disagree when the interval leaves out zero and reaches beyond the margin; else the
data can't tell (the two one-sided tests of Schuirmann, 1987, from memory, with the 95 % interval instead of the 90 %).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from whorlpulse.estimators.measured import Measured, welch_satterthwaite

Agree = Literal["agree", "disagree", "undecided"]
Place = Literal["on-plan", "under", "over", "undecided"]


@dataclass(frozen=True)
class Agreement:
    """The second value less the first, in their unit; margin: what would not matter, in that unit."""

    verdict: Agree
    difference: Measured
    margin: float


def agreement(first: Measured, second: Measured, margin: float) -> Agreement:
    """Compare two independent values; margin: the largest difference of no account, in their unit, above 0."""
    if not (margin > 0 and math.isfinite(margin)):
        raise ValueError(f"margin must be a positive number, got {margin}")
    u = math.hypot(first.u, second.u)
    apart = Measured(second.value - first.value, u, welch_satterthwaite([(first.u, first.dof), (second.u, second.dof)]))
    verdict: Agree = "undecided"
    if -margin <= apart.low and apart.high <= margin:
        verdict = "agree"
    elif apart.low > 0 or apart.high < 0:
        verdict = "disagree"
    return Agreement(verdict, apart, margin)


def against_range(m: Measured, low: float, high: float) -> Place:
    """Return where a value stands: on plan when all of its interval lies from low to high, off when all is outside."""
    if low <= m.low and m.high <= high:
        return "on-plan"
    if m.high < low:
        return "under"
    return "over" if m.low > high else "undecided"
