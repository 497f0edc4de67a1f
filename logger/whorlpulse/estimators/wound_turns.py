"""Turns wound on against time, from flyer and bobbin: the leading shaft's turns less the lagging one's.

    W(t) = φ_leading(t) − φ_lagging(t)

told at the lagging shaft's passages, where its own angle is known without interpolation. Within a stretch only
differences count: between two stretches nothing is wound on, and over lost lines nothing is known. Validated on
simulated wheels of all three tensions (tests/tension).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, Stretch
from whorlpulse.phase import shaft_turns, turns_at
from whorlpulse.pulses import BOBBIN, FLYER, Flag, FloatArray, IntArray

#: How exactly the difference is known at either end of a stretch, in turns: interpolated while the wheel speeds up or
#: runs down (in 1 of 40 simulated wheels it was a tenth and more off).
_END_U = 0.05
#: A step of the lagging shaft with more than this many turns wound on hides missed and extra pulses.
_HIDES = 0.05


@dataclass(frozen=True)
class WoundTurns:
    """t_s (n,) seconds since the log's first row, rising; turns (n,) wound on up to then; span (n,) between breaks.

    u: standard uncertainty of the whole, in turns.
    """

    t_s: FloatArray
    turns: FloatArray
    span: IntArray
    u: float

    @property
    def total(self) -> float:
        """Turns wound on in all."""
        return float(self.turns[-1])


def wound_turns_of(log: Conditioned) -> WoundTurns | None:
    """Return the turns wound on in a log with flyer and bobbin; None where they weren't seen turning together."""
    times, turns, spans, made, hiding = [], [], [], 0.0, 0
    for stretch in log.stretches:
        t, wound = _in_stretch(log, stretch)
        if len(t) < 2:
            continue
        wound = wound - wound[0]
        times.append(t)
        turns.append(made + wound)
        spans.append(np.searchsorted(log.break_s, t, side="right"))
        made += float(wound[-1])
        hiding += int(np.count_nonzero(np.abs(np.diff(wound)) > _HIDES))
    if not times:
        return None
    hidden = _faults(log) * hiding
    u = float(np.hypot(_END_U * np.sqrt(2.0 * len(times)), hidden))
    return WoundTurns(np.concatenate(times), np.concatenate(turns), np.concatenate(spans), u)


def _in_stretch(log: Conditioned, stretch: Stretch) -> tuple[FloatArray, FloatArray]:
    leading, lagging = (BOBBIN, FLYER) if log.bobbin_leads else (FLYER, BOBBIN)
    own = stretch.of(lagging)
    if len(own) < 2 or len(stretch.of(leading)) < 2:
        return np.empty(0), np.empty(0)
    wound = turns_at(stretch.of(leading), log.angles[leading], own.t_s) - shaft_turns(own, log.angles[lagging]).since(0)
    seen = np.isfinite(wound)
    return own.t_s[seen], wound[seen]


def _faults(log: Conditioned) -> float:
    """Missed and extra pulses of flyer and bobbin as a share: where yarn winds on as many stay unseen."""
    flags = [log.trains[c].flag for c in (FLYER, BOBBIN)]
    return sum(float(np.mean(f & (Flag.FILLED | Flag.EXTRA) != 0)) for f in flags)
