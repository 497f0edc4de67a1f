"""The hand that rolls a standing wheel to and fro, to find the crank's place or to join the yarn."""

from __future__ import annotations

import numpy as np

from whorlpulse.pulses import FloatArray

_NODE_S = 0.02
_PAUSE_S = 0.6
_SLOW, _FAST = 0.1, 0.4  # turns per second, mean of a move


def hand_roll(turns: float, free_s: float, rng: np.random.Generator) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return times from 0 (n,), wheel turns from 0 (n,) and turns per second (n,) of one roll and return.

    turns: how far the wheel is rolled at most, first one way, then 0.3 to 0.9 of it back. free_s: how long
    the wheel stands; the hand keeps off for a moment before and after. Where free_s is short the hand first
    rolls faster, then less far. Raises ValueError when there is no time to roll at all.
    """
    sign = 1.0 if rng.random() < 0.5 else -1.0
    back = float(rng.uniform(0.3, 0.9))
    speed = float(rng.uniform(_SLOW, _FAST))
    room = free_s - 3.0 * _PAUSE_S
    if room < 0.5:
        raise ValueError(f"a stop that leaves {free_s:.1f} s at rest is too short to roll the wheel by hand")
    speed = min(max(speed, turns * (1.0 + back) / room), _FAST)
    turns = min(turns, speed * room / (1.0 + back))
    legs = (sign * turns, -sign * turns * back)
    t, angle, rate = [0.0], [0.0], [0.0]
    for leg in legs:
        start, place = t[-1] + _PAUSE_S, angle[-1]
        lasts = abs(leg) / speed
        u = np.linspace(0.0, 1.0, max(int(lasts / _NODE_S), 4) + 1)
        t += (start + lasts * u).tolist()
        angle += (place + leg * u * u * (3.0 - 2.0 * u)).tolist()
        rate += (leg / lasts * 6.0 * u * (1.0 - u)).tolist()
    return np.array(t), np.array(angle), np.array(rate)
