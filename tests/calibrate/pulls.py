"""Logs of a measured length pulled over a roller, hand over hand, made from the roller's angle alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

TICK_HZ = 1_000_000


@dataclass(frozen=True)
class Roller:
    """per_turn_m: its true length per turn; targets: at even angles."""

    per_turn_m: float
    targets: int = 4


def pulled_log(
    roller: Roller,
    lengths_m: Sequence[float],
    rng: np.random.Generator,
    *,
    stop_s: float = 8.0,
    stated: str | None = None,
    lines: str = "none",
    written: str = "10.00 m",
    stray_m: float = 0.0,
    jitter_s: float = 50e-6,
) -> bytes:
    """A log: each length pulled in grips of about 0.6 m with a short pause between, then a stop.

    lines: `marks` writes a mark before and after each pull, `lengths` a length line after each. stray_m: yarn that is
    pulled in the stops while the length is laid out anew.
    """
    angle, t, out, seq = float(rng.random()), 2.0, [b"# format: pulses 1\n"], 0
    out.append(f"# targets: w=1 f=1 y={roller.targets}\n".encode())
    if stated is not None:
        out.append(f"# roller: {stated}\n".encode())
    rows: list[tuple[float, str]] = []

    def move(metres: float, lasts: float) -> None:
        nonlocal angle, t
        gaps = angle * roller.targets
        end = gaps + metres / roller.per_turn_m * roller.targets
        for number in range(int(np.floor(gaps)) + 1, int(np.floor(end)) + 1):
            part = (number - gaps) / (end - gaps)
            when = t + lasts * np.arccos(1 - 2 * part) / np.pi + jitter_s * rng.standard_normal()  # from rest to rest
            rows.append((max(when, 0.0), "y"))
        angle, t = (end / roller.targets) % 1.0, t + lasts

    for metres in lengths_m:
        if lines == "marks":
            rows.append((t - 0.5, "begin"))
        left = metres
        while left > 1e-9:
            grip = min(float(rng.uniform(0.5, 0.7)), left)
            move(grip, float(rng.uniform(0.7, 1.0)))
            left -= grip
            t += float(rng.uniform(0.2, 0.8))
        if lines == "marks":
            rows.append((t + 0.5, "end"))
        elif lines == "lengths":
            rows.append((t + 0.5, "length"))
        t += stop_s / 2
        if stray_m:
            move(stray_m, 1.0)
        t += stop_s / 2
    rows += [(float(s), "k") for s in range(1, int(t) + 1)]
    for when, what in sorted(rows):
        tick = int(when * TICK_HZ)
        if what in "yk":
            out.append(f"{what},{tick},{seq}\n".encode())
            seq += 1
        elif what == "length":
            out.append(f"# length: {tick} {written}\n".encode())
        else:
            out.append(f"# mark: {tick} {what}\n".encode())
    return b"".join(out)
