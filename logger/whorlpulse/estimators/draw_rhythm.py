"""The rhythm of drafting: how long draws last, how long they are, and how alike.

Each figure is a mean with its coefficient of variation (standard deviation over mean) over the draws that have it.
A draw during which the wheel rested says nothing of the rhythm, so it is left out; in park and draft the rest is part
of the draw, and all of them count.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from whorlpulse.estimators.spun_draw import SpunDraw

#: Fewer draws than this have no rhythm.
FEWEST_DRAWS = 3


@dataclass(frozen=True)
class Spread:
    """Mean and coefficient of variation (1 is 100 %) over `draws` draws."""

    mean: float
    cv: float
    draws: int


@dataclass(frozen=True)
class Rhythm:
    """Over `draws` draws; None where too few draws have the figure. winding_s: from when it began to go in."""

    draws: int
    rested: int
    lasted_s: Spread
    winding_s: Spread | None
    length_m: Spread | None
    twist_tpm: Spread | None
    treadles: Spread | None
    waiting_share: float | None


def rhythm_of(draws: Sequence[SpunDraw], *, parked: bool) -> Rhythm | None:
    """Return the rhythm of draws, or None when there are fewer than FEWEST_DRAWS of them."""
    kept = [d for d in draws if parked or d.stood_s == 0]
    lasted = _spread([d.lasted_s for d in kept])
    if lasted is None:
        return None
    shares = [d.waiting_turns / d.flyer_turns for d in kept if d.waiting_turns is not None and d.flyer_turns]
    return Rhythm(
        draws=len(kept),
        rested=len(draws) - len(kept),
        lasted_s=lasted,
        winding_s=_spread([d.end_s - d.winding_s if d.winding_s is not None else None for d in kept]),
        length_m=_spread([d.length_m for d in kept]),
        twist_tpm=_spread([d.tpm for d in kept]),
        treadles=_spread([d.treadles for d in kept]),
        waiting_share=float(np.mean(shares)) if shares else None,
    )


def _spread(values: Sequence[float | None]) -> Spread | None:
    known = np.array([v for v in values if v is not None])
    if len(known) < FEWEST_DRAWS or known.mean() <= 0:
        return None
    return Spread(float(known.mean()), float(known.std(ddof=1) / known.mean()), len(known))
