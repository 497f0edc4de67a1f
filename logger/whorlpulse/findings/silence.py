"""A shaft that falls silent while the other turns on: a dead sensor, a lost target, or a band that is off.

Between two pulses of a shaft the other one makes a known number of pulses. Many times that number, at the other's usual
pace and without a lost line between, is a silence. A few are single missed pulses, which conditioning fills.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from whorlpulse.estimators.slip_events import Burst
from whorlpulse.estimators.slip_slides import ran_down
from whorlpulse.findings.evidence import Facts
from whorlpulse.pulses import FLYER, WHEEL, Flag, FloatArray

_MISSED_IN_A_ROW = 9  # more than conditioning fills
_LEAST_S = 1.0
_LEAST_OTHERS = 3  # a stopping and starting wheel passes a target or two in a pause
_AT_PACE = 0.4  # of the other shaft's pace: a wheel rolled slowly by hand is not turning on


@dataclass(frozen=True)
class Silence:
    """From start_s to end_s, seconds since the log's first line; others: pulses of the other shaft meanwhile.

    stood: whether the shaft slowed down before it, or sped up after it, as what really stands does.
    """

    start_s: float
    end_s: float
    others: int
    stood: bool


def silences(facts: Facts, letter: int) -> list[Silence]:
    """Return the silences of channel `letter` (wheel or flyer), in order."""
    other = WHEEL if letter == FLYER else FLYER
    log = facts.conditioned
    mine, theirs = _heard(facts, letter), _heard(facts, other)
    if len(mine) < 4 or len(theirs) < 4 or log.coarse & {FLYER, WHEEL}:
        return []
    usual = float(np.median(np.diff(mine)) / np.median(np.diff(theirs)))  # of their pulses in one gap of mine
    pace = 1.0 / float(np.median(np.diff(theirs)))
    knots = np.concatenate(([0.0], mine, [log.duration_s]))
    between = np.diff(np.searchsorted(theirs, knots))
    long = (np.diff(knots) >= _LEAST_S) & (between >= max(_LEAST_OTHERS, _MISSED_IN_A_ROW * usual))
    found = []
    for gap in np.flatnonzero(long).tolist():
        start, end = float(knots[gap]), float(knots[gap + 1])
        i, j = np.searchsorted(theirs, (start, end))
        inside = theirs[i:j]
        broken = np.searchsorted(log.break_s, end, side="right") > np.searchsorted(log.break_s, start, side="right")
        if not broken and (len(inside) - 1) / (inside[-1] - inside[0]) > _AT_PACE * pace:
            found.append(Silence(start, end, len(inside), ran_down(mine, gap - 1)))
    return found


def bursts_apart(bursts: Sequence[Burst], quiet: Sequence[Silence], turn_s: float) -> tuple[Burst, ...]:
    """The bursts that do not lie beside a silence, within a wheel turn (turn_s) of it: there the count is a guess."""
    return tuple(
        b for b in bursts if not any(b.start_s < s.end_s + turn_s and b.end_s > s.start_s - turn_s for s in quiet)
    )


def _heard(facts: Facts, letter: int) -> FloatArray:
    """Reported pulses (n,), idle ones too: what turns while the leading shaft is silent was taken for idle."""
    train = facts.conditioned.trains[letter]
    times: FloatArray = train.tick[train.flag & (Flag.BOUNCE | Flag.FILLED) == 0] / facts.conditioned.tick_hz
    return times
