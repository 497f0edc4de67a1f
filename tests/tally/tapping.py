"""A person who taps: a treadled wheel of known ratio, and fingers with their reaction times."""

from __future__ import annotations

import numpy as np


def tapped(rng, ratio, turns, reaction_s, missed=0.0, flyer_hz=1.0):
    """Times of wheel and flyer taps while the wheel makes `turns` turns and the flyer some one turn a second.

    The wheel swings by a tenth within each turn and drifts by a twentieth. Reaction times are normal, with means of
    0.20 s and 0.22 s for the two hands and standard deviation reaction_s; missed is the chance that a tap is left out.
    """
    wheel_hz = flyer_hz / ratio
    t_s = np.linspace(-3, (turns + 1) / wheel_hz * 1.1 + 4, 20000)
    swing = 0.1 * np.sin(2 * np.pi * wheel_hz * t_s + rng.uniform(0, 6)) + 0.05 * np.sin(0.3 * t_s + rng.uniform(0, 6))
    wheel = np.cumsum(wheel_hz * (1 + swing)) * (t_s[1] - t_s[0])
    flyer = ratio * wheel + rng.uniform(0, 1)
    w_s = np.interp(np.arange(turns + 1) + 1.0, wheel, t_s)
    first, last = np.interp([w_s[0] - 1.2 / flyer_hz, w_s[-1] + 1.2 / flyer_hz], t_s, flyer)
    f_s = np.interp(np.arange(np.ceil(first), np.floor(last) + 1), flyer, t_s)
    w_s = np.sort(w_s + 0.20 + reaction_s * rng.standard_normal(len(w_s)))
    f_s = np.sort(f_s + 0.22 + reaction_s * rng.standard_normal(len(f_s)))
    return w_s[rng.random(len(w_s)) >= missed], f_s[rng.random(len(f_s)) >= missed]
