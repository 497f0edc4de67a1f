"""Twist: flyer turns over the length of yarn that took them up, in turns per metre of twisted yarn.

Definition as in ISO 2061: turns about the yarn's axis per unit of its length before untwisting. For one piece of yarn

    T = n / L,   (u(T)/T)² = (u(n)/n)² + (u(L)/L)²        (GUM 5.1.6)

n: flyer turns from the end of the take-up before to the end of the piece's own one, so that twist which waits in the
drafted yarn is given to the yarn it goes into. The flyer stands anywhere between two targets at both ends of a count:
u(n) = gap/√6. Every flyer turn puts one turn into the yarn, whatever drives it; where the flyer is not sensed its turns
are the bobbin's and those wound on (`flyer_unseen`). Without roller, lines or total the length is that wound on
(`bobbin_length`). Assumes that no twist slips past the hand. Pieces during which lines were lost are left out, turns
and length both. Validated on simulated skeins and the flyer-frame tables (tests/authorities, tests/tension).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.measured import Measured, quotient
from whorlpulse.estimators.segments import level_segments
from whorlpulse.estimators.yarn_and_flyer import NoTwist as NoTwist
from whorlpulse.estimators.yarn_and_flyer import yarn_and_flyer
from whorlpulse.length import LengthSource, MeasuredLength, TakeUp
from whorlpulse.phase import FlyerCount
from whorlpulse.pulses import FloatArray
from whorlpulse.rig import Rig

Verdict = Literal["on-plan", "under", "over", "undecided"]

#: Stretches shorter than this are not called off plan: a hand can't steer so finely.
SHORTEST_STRETCH_M = 0.3
#: The grain in which a long yarn is looked through for off-plan stretches.
_GRAIN_M = 0.05
_MOST_GRAINS = 4000
#: Beyond 10 km windows grow longer: a slip in a unit must not fill the memory.
_MOST_WINDOWS = 20_000
#: Between two passages the flyer's turns are known to this part of the gap between its targets.
_ON_CURVE = 0.1


@dataclass(frozen=True)
class Draw:
    """Yarn between two take-ups: seconds since the log's first row, metres along the yarn, turns and turns/m."""

    start_s: float
    end_s: float
    from_m: float
    to_m: float
    turns: float
    tpm: float


@dataclass(frozen=True)
class Window:
    """Twist over a fixed length along the yarn."""

    from_m: float
    to_m: float
    tpm: float


@dataclass(frozen=True)
class OffPlan:
    """A stretch whose twist lies outside the plan's tolerance."""

    from_m: float
    to_m: float
    tpm: float
    verdict: Literal["under", "over"]


@dataclass(frozen=True)
class TwistEstimate:
    """All that a log says of its twist; see the module's head.

    flyer_turns: put into the counted yarn; waiting_turns: made after the last take-up. spread: coefficient of variation
    of `along`, None with fewer than three windows. left_out_s: (from, to) of pieces not counted because lines were
    lost. length_share: the part of twist's variance that comes from the length. wound: turns wound on, and full: the
    package's diameter in metres at the end, where the bobbin was needed; flyer_unseen: it stood for the flyer.
    """

    flyer_turns: float
    waiting_turns: float
    length: Measured
    length_source: LengthSource
    twist: Measured
    draws: tuple[Draw, ...]
    along: tuple[Window, ...]
    spread: float | None
    left_out_s: tuple[tuple[float, float], ...]
    length_share: float
    wound: Measured | None = None
    full: Measured | None = None
    flyer_unseen: bool = False


@dataclass(frozen=True)
class PlanVerdict:
    """The mean twist and its stretches against a plan."""

    verdict: Verdict
    off_plan: tuple[OffPlan, ...]


def estimate_twist(log: Conditioned, rig: Rig, window_m: float = 0.5, count_tex: float | None = None) -> TwistEstimate:
    """Estimate the twist of a conditioned log; `along` in windows of window_m metres (longer beyond 10 km).

    count_tex: the yarn's count, for a bobbin whose full diameter was not measured. Raises NoTwist when flyer, length or
    take-up are missing.
    """
    source = yarn_and_flyer(log, rig, count_tex)
    flyer, yarn = source.flyer, source.yarn
    pieces, left_out = _whole_pieces(log, flyer, yarn)
    if not pieces or sum(p.length_m for p in pieces) <= 0:
        raise NoTwist("no-take-up")
    draws = _draws(pieces, flyer)
    kept = draws[-1].to_m / yarn.total_m
    length = Measured(draws[-1].to_m, float(np.hypot(yarn.u_m * np.sqrt(kept), yarn.relative_u * draws[-1].to_m)))
    if yarn.relative_u == 0 or kept == 1:
        length = Measured(draws[-1].to_m, yarn.u_m * np.sqrt(kept))
    late = yarn.end_u_s * draws[-1].turns / max(draws[-1].end_s - draws[-1].start_s, 1e-9)
    # Where the roller never rests, both ends lie between flyer passages, on a curve; else the flyer stands anywhere.
    between = (
        flyer.target_turns
        if yarn.end_gap_m or yarn.source not in ("roller", "bobbin")
        else _ON_CURVE * flyer.target_turns
    )
    ends = between * np.sqrt((1 + len(left_out)) / 6)
    turns = Measured(sum(d.turns for d in draws), float(np.hypot(np.hypot(ends, late), source.turns_u)))
    twist = quotient(turns, length)
    along = _windows(draws, window_m)
    made = flyer.knot_turns[-1] - flyer.turns_at(np.array([draws[-1].end_s]))[0]
    return TwistEstimate(
        flyer_turns=turns.value,
        waiting_turns=float(max(made, 0.0)),
        length=length,
        length_source=yarn.source,
        twist=twist,
        draws=draws,
        along=along,
        spread=_spread(along),
        left_out_s=left_out,
        length_share=_share(length, turns),
        wound=source.wound,
        full=source.full,
        flyer_unseen=source.flyer_unseen,
    )


def _share(length: Measured, turns: Measured) -> float:
    by_length, by_turns = (length.u / length.value) ** 2, (turns.u / turns.value) ** 2 if turns.value else 0.0
    return by_length / (by_length + by_turns) if by_length + by_turns > 0 else 0.0


def _whole_pieces(
    log: Conditioned, flyer: FlyerCount, yarn: MeasuredLength
) -> tuple[list[TakeUp], tuple[tuple[float, float], ...]]:
    """Pieces during which no line was lost, and the spans of the others."""
    kept, left_out = [], []
    for p in yarn.pieces:
        i, j = np.searchsorted(log.break_s, [p.start_s, p.end_s], side="right")
        blocks = flyer.block_at(np.array([p.start_s, p.end_s]))
        if yarn.source != "total" and (j > i or blocks[0] != blocks[1]):
            left_out.append((p.start_s, p.end_s))
        else:
            kept.append(p)
    return kept, tuple(left_out)


def _draws(pieces: Sequence[TakeUp], flyer: FlyerCount) -> tuple[Draw, ...]:
    ends = flyer.turns_at(np.array([[p.start_s, p.end_s] for p in pieces]).ravel()).reshape(-1, 2)
    draws, at = [], 0.0
    for p, (first, last) in zip(pieces, ends.tolist(), strict=True):
        turns = last - first
        draws.append(Draw(p.start_s, p.end_s, at, at + p.length_m, turns, turns / p.length_m))
        at += p.length_m
    return tuple(draws)


def _cumulative(draws: Sequence[Draw]) -> tuple[FloatArray, FloatArray]:
    """Knots along the yarn: metres (n,) and turns up to there (n,)."""
    metres = np.array([0.0] + [d.to_m for d in draws])
    return metres, np.concatenate(([0.0], np.cumsum([d.turns for d in draws])))


def _windows(draws: Sequence[Draw], window_m: float) -> tuple[Window, ...]:
    metres, turns = _cumulative(draws)
    window_m = max(window_m, float(metres[-1]) / _MOST_WINDOWS)
    edges = np.arange(0.0, metres[-1] + 1e-9, window_m)
    if metres[-1] - edges[-1] > 0.5 * window_m or len(edges) < 2:
        edges = np.append(edges, metres[-1])
    at = np.interp(edges, metres, turns)
    return tuple(
        Window(float(a), float(b), float(n / (b - a)))
        for a, b, n in zip(edges[:-1], edges[1:], np.diff(at), strict=True)
    )


def _spread(along: Sequence[Window]) -> float | None:
    if len(along) < 3:
        return None
    tpm = np.array([w.tpm for w in along])
    return float(tpm.std(ddof=1) / tpm.mean()) if tpm.mean() > 0 else None


def against_plan(found: TwistEstimate, plan_tpm: float, tolerance: float) -> PlanVerdict:
    """Judge twist against plan_tpm (turns/m) with a tolerance (0.1 is 10 %).

    The mean is on plan when its whole 95 % interval lies within the tolerance, off plan when all of it lies outside,
    else undecided. Stretches: the yarn is cut where its twist changes (`level_segments`), and pieces outside the
    tolerance are named.
    """
    low, high = plan_tpm * (1 - tolerance), plan_tpm * (1 + tolerance)
    twist = found.twist
    verdict: Verdict = "undecided"
    if low <= twist.low and twist.high <= high:
        verdict = "on-plan"
    elif twist.high < low:
        verdict = "under"
    elif twist.low > high:
        verdict = "over"
    return PlanVerdict(verdict, _off_plan(found.draws, low, high))


def _off_plan(draws: Sequence[Draw], low: float, high: float) -> tuple[OffPlan, ...]:
    if len(draws) < 2:
        return ()
    metres, turns = _cumulative(draws)
    metres, turns = _grained(metres, turns)
    edges = level_segments(np.diff(metres), np.diff(turns) / np.diff(metres))
    found: list[OffPlan] = []
    for i, j in pairwise(edges):
        length = metres[j] - metres[i]
        tpm = float((turns[j] - turns[i]) / length)
        if low <= tpm <= high:
            continue
        verdict: Literal["under", "over"] = "under" if tpm < low else "over"
        if found and found[-1].verdict == verdict and found[-1].to_m == float(metres[i]):
            before = found.pop()
            whole = float(metres[j]) - before.from_m
            tpm = (tpm * length + before.tpm * (before.to_m - before.from_m)) / whole
            found.append(OffPlan(before.from_m, float(metres[j]), tpm, verdict))
        else:
            found.append(OffPlan(float(metres[i]), float(metres[j]), tpm, verdict))
    return tuple(s for s in found if s.to_m - s.from_m >= SHORTEST_STRETCH_M)


def _grained(metres: FloatArray, turns: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Join knots closer than the grain, so that the search stays quick on a long yarn of fine knots."""
    grain = max(_GRAIN_M, float(metres[-1]) / _MOST_GRAINS)
    label = np.floor(metres / grain + 1e-9)
    keep = np.append(np.diff(label) > 0, True)
    keep[0] = True
    return metres[keep], turns[keep]
