"""Pulse logs of shafts that turn as printed tables and recorded shafts say; nothing of the simulator is in them.

A shaft is its passages: the seconds at which its one target passed. A log is those, rounded down to the board's ticks,
with keep-alives, line numbers and checksums, as any board of the line protocol would have sent them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from whorlpulse.wire.encoder import encode_meta, encode_pulse

Seconds = npt.NDArray[np.float64]
TICK_HZ = 1_000_000
INCH_CM = 2.54
#: Where the shafts stand as the board begins, so that no passages of two shafts coincide by construction.
_FIRST = {"w": 0.377, "f": 0.618, "b": 0.154, "y": 0.271}


def passages_at(rpm: float, duration_s: float, letter: str) -> Seconds:
    """Return when the target of a shaft of constant speed passes, over a log of duration_s: (n,) seconds."""
    turns = rpm / 60.0 * duration_s
    return (np.arange(int(turns - _FIRST[letter]) + 1) + _FIRST[letter]) * 60.0 / rpm


def log_of(passages: Mapping[str, Seconds], metadata: Mapping[str, str] | None = None) -> bytes:
    """Return the log of the shafts' passages, by channel letter, with the given metadata lines at its head."""
    last_s = max(float(t[-1]) for t in passages.values())
    shafts = {"k": np.arange(0.0, last_s, 1.0), **passages}
    t_s = np.concatenate(list(shafts.values()))
    letters = np.repeat(list(shafts), [len(t) for t in shafts.values()])
    order = np.argsort(t_s, kind="stable")
    ticks = np.floor(t_s[order] * TICK_HZ).astype(np.int64) % 2**32
    head = {"format": "pulses 1", "tick_hz": str(TICK_HZ), "tick_bits": "32", **(metadata or {})}
    lines = [encode_meta(key, value) for key, value in head.items()]
    rows = zip(letters[order].tolist(), ticks.tolist(), strict=True)
    return b"".join(lines + [encode_pulse(letter, tick, seq % 2**16) for seq, (letter, tick) in enumerate(rows)])


def circumference(diameter_in: float) -> str:
    """Return the `roller` value of a roller of that diameter, with more digits than any tolerance here can see."""
    return f"{math.pi * diameter_in * INCH_CM:.6f} cm"


def spun(spindle_rpm: float, roller_rpm: float, roller: str, duration_s: float = 60.0) -> bytes:
    """Return the log of a machine: a spindle on channel f, a delivery roller on y, and no drive wheel at all."""
    shafts = {"f": passages_at(spindle_rpm, duration_s, "f"), "y": passages_at(roller_rpm, duration_s, "y")}
    return log_of(shafts, {"targets": "f=1 y=1", "roller": roller})


def wound(flyer_rpm: float, bobbin_rpm: float, duration_s: float = 60.0) -> bytes:
    """Return the log of a flyer frame: flyer and bobbin at those speeds, no roller and no drive wheel."""
    shafts = {"f": passages_at(flyer_rpm, duration_s, "f"), "b": passages_at(bobbin_rpm, duration_s, "b")}
    return log_of(shafts, {"targets": "f=1 b=1"})


def bobbin_file(tension: str, diameter_mm: float) -> str:
    """Return a wheel file with a bobbin of that diameter, which hardly grows in a minute."""
    return (
        f'[wheel]\ntension = "{tension}"\n[bobbin]\ncore_diameter = "{diameter_mm:.6f} mm"\n'
        f'full_diameter = "{diameter_mm:.6f} mm"\n'
    )


def driven(wheel_rpm: float, ratio: float, wheel_turns: int) -> bytes:
    """Return the log of a wheel and a flyer at exactly that ratio, for that many turns of the wheel."""
    duration_s = wheel_turns * 60.0 / wheel_rpm
    shafts = {
        "w": passages_at(wheel_rpm, duration_s, "w"),
        "f": passages_at(wheel_rpm * ratio, duration_s, "f"),
    }
    return log_of(shafts, {"targets": "w=1 f=1"})
