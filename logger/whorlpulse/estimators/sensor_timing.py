"""What the sensors themselves show of their timing, for the noise mix of a ratio."""

from __future__ import annotations

from collections.abc import Sequence

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.level_series import TimingPrior
from whorlpulse.estimators.timing_noise import timing_noise
from whorlpulse.estimators.wheel_steps import Piece
from whorlpulse.pulses import FLYER

#: Timing of an ordinary sensor and board, known within a decade (measured on the reference board: under 10 µs; magnets
#: and marks add to it: common practice, no source).
_LIKELY_JITTER_S, _LIKELY_WIDTH = 30e-6, 1.0
#: What the flyer's pulses tell of the scatter of both sensors is known within so many decades.
_SHOWN_WIDTH = 0.1
#: The variance of y over one pulse's: the wheel's own and what the curve leaves of the flyer's (simulated: 1.8 to 1.9).
_PULSES = 1.85
#: A random walk's share in differences of order 16: C(30, 15) / C(32, 16), of its variance from pulse to pulse.
_WALK_SHOWN = 16 / 62
#: Beyond this the curve is no random walk's any more (less than a flyer pulse a step).
_MOST_UNSEEN = 0.2


def timing_prior(log: Conditioned, pieces: Sequence[Piece], tick_hz: float) -> TimingPrior:
    """What the sensors show of their timing, as variance in flyer turns at these pieces' mean speed.

    Least: a stamp cut to whole ticks is uniform over one (GUM F.2.2.1: q/√12). Shown: the flyer's own pulses, with
    those of the wheel taken to be like them. Slip that falls between two flyer pulses makes them scatter too.
    """
    seconds = sum(float(p.t_s[-1] - p.t_s[0]) for p in pieces)
    turns = sum(float(p.y[-1] - p.y[0]) for p in pieces)
    scale = _PULSES * (turns / seconds) ** 2
    tick = 1 / tick_hz
    steps = sum(len(p.y) - 1 for p in pieces)
    passages = turns * len(log.angles[FLYER].angle) / max(steps, 1)
    runs = {p.run for p in pieces}
    own = timing_noise([s.flyer for s in log.stretches if s.run in runs], len(log.angles[FLYER].angle), tick)
    least, most = own.range_s or (0.0, 1.0)
    return TimingPrior(
        least=scale * tick**2 / 12,
        ordinary=scale * _LIKELY_JITTER_S**2,
        ordinary_width=_LIKELY_WIDTH,
        shown_least=scale * least**2,
        shown_most=scale * most**2,
        shown_width=_SHOWN_WIDTH,
        slip_shown=_PULSES * _WALK_SHOWN / passages,
        unseen=min(1 / (6 * passages), _MOST_UNSEEN),
    )
