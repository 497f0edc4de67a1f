"""Logs for the cadence tests: a wheel whose angle is any function of time, and the true laps of a simulated one."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from tests.accuracy.trial import Trial

from whorlpulse.conditioning import Conditioned, condition
from whorlpulse.logfile import read_log
from whorlpulse.rig import Rig


def crossings(turns: np.ndarray, t: np.ndarray, offset: float = 0.0) -> np.ndarray:
    """Times at which a shaft, going either way, has its target under the sensor."""
    whole = np.floor(turns - offset)
    at = np.flatnonzero(np.diff(whole) != 0)
    level = np.maximum(whole[at], whole[at + 1]) + offset
    return t[at] + (level - turns[at]) / (turns[at + 1] - turns[at]) * (t[at + 1] - t[at])


def log_of(angle: Callable[[np.ndarray], np.ndarray], seconds: float, ratio: float = 8.43) -> bytes:
    """A log of a wheel that stands at angle(t) turns, and of a flyer that never slips."""
    t = np.arange(0.0, seconds, 0.0005)
    turns = angle(t)
    heard = [(x, "w") for x in crossings(turns, t, 0.13)] + [(x, "f") for x in crossings(ratio * turns, t, 0.4)]
    heard += [(x, "k") for x in np.arange(0.0, seconds, 1.0)]
    lines = [f"{c},{round(x * 1e6)}" for x, c in sorted(heard)]
    return ("# tick_hz: 1000000\n" + "\n".join(lines) + "\n").encode()


def conditioned(log: bytes) -> Conditioned:
    """The log through the chain."""
    return condition(read_log(lambda: [log]).rows, Rig())


def true_lap_ends(case: Trial, start_s: float, end_s: float) -> np.ndarray:
    """True moments at which the wheel's first target passed, from one estimated moment to another."""
    passages = case.truth.passages_s("w")
    first, last = (int(np.abs(passages - t).argmin()) for t in (start_s, end_s))
    return passages[first : last + 1]
