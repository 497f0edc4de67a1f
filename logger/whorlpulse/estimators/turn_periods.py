"""How fast the wheel was treadled, and how evenly: the mean and the coefficient of variation of its turn periods.

A period is the time from one passage of a wheel target to the next passage of the same target, so that targets out of
place don't show. With n periods p_i of mean m and standard deviation s

    cadence = 1/m,   steadiness = s/m

Periods resemble their neighbours (a foot wanders), so standard uncertainties come from leaving out one after another of
G stretches of neighbours, the delete-a-group jackknife:  u² = (G − 1)/G Σ (θ_g − mean θ)²,  G − 1 degrees of freedom
(Kott, Journal of Official Statistics 17 (2001) 521, from memory). Only turns at speed count, as for the ratio.
The board's own clock may be off by some tenths of a per cent; that is not in here.
Validated in tests/estimators/test_turn_periods.py against simulated periods of known law.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.wheel_steps import Piece, pieces_at_speed
from whorlpulse.pulses import WHEEL, FloatArray

_GROUP_TURNS = 25  # a foot wanders over some twenty seconds
_FEWEST_GROUPS, _MOST_GROUPS = 4, 40
_FEWEST_PERIODS = 8


@dataclass(frozen=True)
class TurnPeriods:
    """cadence_hz: wheel turns a second. variation: CV of the turn periods. seconds: how long was counted."""

    cadence_hz: Measured
    variation: Measured
    turns: int
    seconds: float


def estimate_turn_periods(log: Conditioned) -> TurnPeriods | None:
    """Return cadence and steadiness; None for fewer than eight whole turns, or where lines stand for several."""
    if WHEEL in log.coarse:
        return None
    targets = len(log.angles[WHEEL].angle)
    return summary(turn_periods(pieces_at_speed(log, targets), targets))


def turn_periods(pieces: Sequence[Piece], targets: int) -> FloatArray:
    """Periods (n,) in seconds of the whole turns of these pieces, each counted once, in order."""
    found = [np.empty(0)]
    for piece in pieces:
        same = np.flatnonzero((piece.passage - piece.passage[0]) % targets == 0)
        whole = np.diff(piece.passage[same]) == targets  # a passage that was filled in is not there
        found.append(np.diff(piece.t_s[same])[whole])
    periods: FloatArray = np.concatenate(found)
    return periods


def summary(periods: FloatArray) -> TurnPeriods | None:
    """Return mean and variation of periods (n,) in seconds, in order of time."""
    n = len(periods)
    if n < _FEWEST_PERIODS:
        return None
    groups = np.array_split(periods, min(max(n // _GROUP_TURNS, _FEWEST_GROUPS), _MOST_GROUPS))
    return TurnPeriods(
        cadence_hz=_jackknifed(periods, groups, lambda p: float(1.0 / p.mean())),
        variation=_jackknifed(periods, groups, lambda p: float(p.std(ddof=1) / p.mean())),
        turns=n,
        seconds=float(periods.sum()),
    )


def _jackknifed(periods: FloatArray, groups: Sequence[FloatArray], of: Callable[[FloatArray], float]) -> Measured:
    count = len(groups)
    without = np.array([of(np.concatenate([*groups[:g], *groups[g + 1 :]])) for g in range(count)])
    u = float(np.sqrt((count - 1) / count * np.sum((without - without.mean()) ** 2)))
    return Measured(of(periods), u, count - 1)
