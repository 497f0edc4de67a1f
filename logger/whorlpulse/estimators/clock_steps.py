"""Whether a clock's steps are too coarse for a shaft's pulses.

Passages that come every p ticks, p no whole number, are noted after floor(p) or ceil(p) ticks of each other. An
interval of two ticks may be one of three: half as long again. Twice that is four, and then one missed pulse and none
look alike: rounding alone makes turns. So it takes three ticks between passages at the usual speed.

Looked at is the median wait m between a shaft's reported pulses in ticks, bounces left out: too coarse is m < 3. No
judgement below five waits. Channels whose lines stand for several pulses are not judged: their counts are exact.
Validated on simulated wheels on clocks of 8 to 64 ticks a second (tests/findings/test_clock_too_coarse.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.conditioning.waits import median_wait
from whorlpulse.pulses import BOBBIN, FLYER, WHEEL, Flag

#: So many ticks between passages at least.
FEWEST_TICKS: Final = 3
_FEWEST_WAITS: Final = 5


@dataclass(frozen=True)
class CoarseSteps:
    """letter: the shaft's channel; ticks: the median between its pulses; hz: the clock's ticks a second."""

    letter: int
    ticks: float
    hz: float


def coarse_steps(log: Conditioned) -> CoarseSteps | None:
    """Return the first shaft for whose pulses the clock is too coarse, None where it does for all."""
    for letter in (WHEEL, FLYER, BOBBIN):
        train = log.trains[letter]
        if train.count is not None:
            continue
        unfit = train.flag & (Flag.FILLED | Flag.BOUNCE)
        tick = train.tick[unfit == 0] if unfit.any() else train.tick
        usual = median_wait(tick) if len(tick) > _FEWEST_WAITS else FEWEST_TICKS
        if usual < FEWEST_TICKS:
            return CoarseSteps(letter, usual, log.tick_hz)
    return None
