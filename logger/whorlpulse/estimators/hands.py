"""What a plan asks of the hands on each whorl: their speed, the treadles of a draw, and what twist a draft makes.

A wheel turn puts r turns of twist into r / T metres of twisted yarn, drafted from x = r / (T (1 − R)) metres (R the
retraction). So at c wheel turns a second the hands deliver c x metres a second on average; a draw of length L takes
T (1 − R) L flyer turns and L / x treadles; and the other way, drafting x a treadle makes a twist of

    T = r / (x (1 − R))          (u(T)/T)² = (u(r)/r)² + (u(x)/x)²
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from whorlpulse.estimators.agreement import Place, against_range
from whorlpulse.estimators.measured import Measured, quotient
from whorlpulse.estimators.plan import WhorlPlan, YarnPlan
from whorlpulse.rig import Length

Suits = Literal["suits", "too-little", "too-much"]


@dataclass(frozen=True)
class Hands:
    """The spinner's own measures, metres of drafted yarn; None where not told.

    draw: length of a draw. draft: what is drawn out for each treadle, as it is. comfort: from and to, the draft a
    treadle that comes easily.
    """

    draw: Length | None = None
    draft: Length | None = None
    comfort: tuple[float, float] | None = None


@dataclass(frozen=True)
class WhorlHands:
    """One whorl's part. speed_m_s: average speed of the hands. draw_*: flyer turns, treadles and seconds of a draw.

    suits: whether the planned draft a treadle comes easily, is too little or too much for it. twist: turns per metre
    that the spinner's own draft makes, place: where that stands against the plan. None for what wasn't asked.
    """

    speed_m_s: float
    draw_turns: float | None = None
    draw_treadles: float | None = None
    draw_s: float | None = None
    suits: Suits | None = None
    twist: Measured | None = None
    place: Place | None = None


def per_hand(
    plan: YarnPlan, whorls: Iterable[WhorlPlan], cadence_hz: float, hands: Hands, retraction: float = 0.0
) -> tuple[WhorlHands, ...]:
    """Return what each planned whorl asks of the hands; cadence_hz: wheel turns a second, above 0."""
    if not cadence_hz > 0:
        raise ValueError(f"cadence_hz must be positive, got {cadence_hz}")
    return tuple(_one(plan, whorl, cadence_hz, hands, retraction) for whorl in whorls)


def _one(plan: YarnPlan, whorl: WhorlPlan, cadence_hz: float, hands: Hands, retraction: float) -> WhorlHands:
    x = whorl.draft_per_treadle_m
    treadles = None if hands.draw is None else hands.draw.m / x
    twist = None if hands.draft is None else twist_of_draft(whorl.ratio, whorl.ratio_u, hands.draft, retraction)
    return WhorlHands(
        speed_m_s=cadence_hz * x,
        draw_turns=None if treadles is None else treadles * whorl.ratio,
        draw_treadles=treadles,
        draw_s=None if treadles is None else treadles / cadence_hz,
        suits=None if hands.comfort is None else _suits(x, *hands.comfort),
        twist=twist,
        place=None if twist is None else against_range(twist, plan.low_tpm, plan.high_tpm),
    )


def twist_of_draft(ratio: float, ratio_u: float, draft: Length, retraction: float = 0.0) -> Measured:
    """Return the twist in turns per metre when `draft` is drawn out for each treadle on a whorl of `ratio`."""
    if not (ratio > 0 and draft.m > 0 and 0.0 <= retraction < 1.0):
        raise ValueError(f"ratio and draft must be positive, retraction from 0 to below 1; got {ratio}, {draft}")
    kept = 1.0 - retraction
    return quotient(Measured(ratio, ratio_u), Measured(kept * draft.m, kept * draft.m_u))


def ratios_that_suit(plan: YarnPlan, comfort: tuple[float, float], retraction: float = 0.0) -> tuple[float, float]:
    """Return the least and the greatest ratio with which the planned twist comes at a comfortable draft."""
    low, high = (plan.twist_tpm * (1.0 - retraction) * x for x in comfort)
    return low, high


def _suits(draft_m: float, least_m: float, most_m: float) -> Suits:
    if not 0 < least_m <= most_m:
        raise ValueError(f"a comfortable draft goes from a shorter to a longer length, got {least_m} to {most_m} m")
    if draft_m < least_m:
        return "too-little"
    return "too-much" if draft_m > most_m else "suits"
