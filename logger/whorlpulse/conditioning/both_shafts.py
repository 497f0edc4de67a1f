"""Count both shafts of a stretch so that each bears the other out.

1. The flyer is mended by its own intervals: it turns several times a wheel turn, so treadling changes them little
   from one to the next. How much, they show themselves (`usual_scatter`).
2. The wheel is mended on the scale of the flyer's turns, where treadling cancels (`wheel_count`).
3. The wheel judges the flyer's count (`judge`).
4. Where anything was mended, the usual treadling is learned from the sound turns and taken out of time
   (`even_scale`), and 1 to 3 are done again on that scale, on which slip shows by its shape (`slip_shape`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.even_scale import EvenScale, learn_even_scale, plain_time
from whorlpulse.conditioning.judge import Remainders, can_judge, judged, odd_windows, remainders
from whorlpulse.conditioning.repair import EVEN_SD, MOST_MISFIT, find_repairs, usual_scatter
from whorlpulse.conditioning.running_median import running_median_of_waits
from whorlpulse.conditioning.slip_shape import learn_slip_shape
from whorlpulse.conditioning.wheel_count import count_wheel
from whorlpulse.pulses import ByteArray, FloatArray

_MOST_ROUNDS = 8


@dataclass(frozen=True)
class CountedStretch:
    """Both shafts of a stretch counted, and the flags of their reported pulses."""

    flyer: Counted
    wheel: Counted
    flyer_flag: ByteArray
    wheel_flag: ByteArray


def count_both(flyer_t: FloatArray, wheel_t: FloatArray, wheel_targets: int) -> CountedStretch:
    """Count the debounced pulses at flyer_t (n,) and wheel_t (m,), seconds, of one stretch."""
    if len(flyer_t) < 4:
        wheel, wheel_flag = count_wheel(Counted.one_each(flyer_t), wheel_t, wheel_targets)
        return CountedStretch(Counted.one_each(flyer_t), wheel, np.zeros(len(flyer_t), np.uint8), wheel_flag)
    first, found = _settled(flyer_t, wheel_t, wheel_targets, plain_time(flyer_t), None)
    scale = _even_scale(first, found, wheel_targets)
    return first if scale is None else _settled(flyer_t, wheel_t, wheel_targets, scale, EVEN_SD)[0]


def _settled(
    flyer_t: FloatArray, wheel_t: FloatArray, wheel_targets: int, scale: EvenScale, sd: float | None
) -> tuple[CountedStretch, Remainders | None]:
    """Mend, count and judge until the wheel has nothing more to say; what it says is returned beside the count."""
    x = scale.forward(flyer_t)
    usual = running_median_of_waits(x)
    slip = learn_slip_shape(x, usual) if sd is not None else None
    # Without a wheel to ask, the likeliest story has to do, well placed or not.
    most_misfit = MOST_MISFIT if can_judge(len(wheel_t), wheel_targets) else np.inf
    repairs = find_repairs(x, usual, sd, most_misfit, slip)
    at_pace = sd
    for _ in range(_MOST_ROUNDS):
        filled = scale.back(np.array([f for r in repairs for f in r.filled]))
        flyer, flyer_flag = Counted.repaired(flyer_t, repairs, filled)
        wheel, wheel_flag = count_wheel(flyer, wheel_t, wheel_targets)
        found = remainders(flyer, wheel, wheel_targets)
        if found is None or not odd_windows(found):
            break
        at_pace = usual_scatter(x, usual) if at_pace is None else at_pace
        better = judged(flyer_t, x, repairs, found, at_pace, slip)
        if better == repairs:
            break
        repairs = better
    return CountedStretch(flyer, wheel, flyer_flag, wheel_flag), found


def _even_scale(first: CountedStretch, found: Remainders | None, wheel_targets: int) -> EvenScale | None:
    """The scale without treadling, if the first count found faults and the wheel shows enough sound turns."""
    if found is None:
        return None
    windows = odd_windows(found)
    if not windows and not first.flyer_flag.any() and not first.flyer.filled.any():
        return None
    same = first.wheel.passage % wheel_targets == 0
    covered = (first.wheel.t_s >= first.flyer.t_s[0]) & (first.wheel.t_s <= first.flyer.t_s[-1])
    starts = first.wheel.t_s[same & covered]
    whole = np.diff(first.wheel.passage[same & covered]) == wheel_targets
    if len(starts) < 2:
        return None
    sound = whole
    for w in windows:
        sound &= ~((starts[:-1] < w.to_s) & (starts[1:] > w.from_s))
    return learn_even_scale(first.flyer, starts, sound)
