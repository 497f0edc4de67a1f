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
#: Where the flyer's pulses tell their timing, it is known within so many decades.
_SAID_WIDTH = 0.15
#: Where the feet hide it, what they leave is mostly the feet's, by about this factor, within so many decades (simulated
#: treadling).
_HIDDEN_BY, _HIDDEN_WIDTH = 2.0, 0.5
#: Timing is hardly worse than this many times what the flyer's pulses show.
_MORE_THAN_FLYER = 1.3


def timing_prior(log: Conditioned, pieces: Sequence[Piece], tick_hz: float) -> TimingPrior:
    """What the sensors show of their timing, as variance in flyer turns at these pieces' mean speed.

    Least: a stamp cut to whole ticks is uniform over one (GUM F.2.2.1: q/√12). Most: the flyer's own pulses, with those
    of the wheel taken to be like them, so that y carries about twice the variance of one pulse.
    """
    seconds = sum(float(p.t_s[-1] - p.t_s[0]) for p in pieces)
    turns = sum(float(p.y[-1] - p.y[0]) for p in pieces)
    speed2 = (turns / seconds) ** 2
    tick = 1 / tick_hz
    steps = sum(len(p.y) - 1 for p in pieces)
    passages = turns * len(log.angles[FLYER].angle) / max(steps, 1)
    runs = {p.run for p in pieces}
    own = timing_noise([s.flyer for s in log.stretches if s.run in runs], len(log.angles[FLYER].angle), tick)
    least = tick**2 / 12
    likely, width = _LIKELY_JITTER_S, _LIKELY_WIDTH
    if own.sigma_s is not None:
        likely, width = own.sigma_s, _SAID_WIDTH
    elif own.at_most_s is not None:
        likely, width = max(likely, own.at_most_s / _HIDDEN_BY), _HIDDEN_WIDTH
    most = next((s for s in (own.sigma_s, own.at_most_s) if s is not None), 1.0)
    return TimingPrior(
        least=2 * speed2 * least,
        likely=2 * speed2 * max(least, likely**2),
        width=width,
        most=2 * speed2 * max(4 * least, (_MORE_THAN_FLYER * most) ** 2),
        unseen=1 / (6 * passages),
    )
