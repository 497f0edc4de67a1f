"""What the numerical steps of conditioning cost: `python tests/benchmarks/chain.py [--events 1000000]`.

Running medians of the intervals, repair, and the flyer's turns at the wheel's passages by monotone cubic: nanoseconds a
flyer event, for a log without faults, one with a pulse in a thousand missed, and one with three in a hundred missed.
What the repair puts back is held against what was left out: under a treadling foot the flyer alone shows about two
thirds of it (the wheel's judgement, which finds the rest, is not timed here), and never more.
"""

from __future__ import annotations

import argparse

import numpy as np

if __package__:
    from tests.benchmarks.measuring import Bar, medians
else:
    from measuring import Bar, medians

from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.conditioning.repair import find_repairs
from whorlpulse.conditioning.running_median import running_median_9

RATIO = 8.37
MISSED = {"no pulse missed": 0.0, "1 in 1000 missed": 0.001, "3 in 100 missed": 0.03}


def steps_of(events: int, missed: float) -> dict[str, float]:
    """Return the nanoseconds an event of each step, on a treadled flyer that misses this share of its pulses."""
    rng = np.random.default_rng(3)
    turn = np.arange(events)
    t = 0.12 * (turn + 0.13 * np.sin(2 * np.pi * turn / RATIO)) + 3e-5 * rng.standard_normal(events)
    t = t[rng.random(events) >= missed]
    usual = running_median_9(np.diff(t))
    wheel = np.arange(t[0] + 0.5, t[-1], 0.12 * RATIO)
    count = np.arange(len(t), dtype=float)
    found = sum(r.net for r in find_repairs(t, usual))
    if not 0.5 * (events - len(t)) <= found <= 1.02 * (events - len(t)):
        raise SystemExit(f"{events - len(t)} pulses were left out, {found} put back")
    passes = {
        "running median of nine": lambda: running_median_9(np.diff(t)),
        "repair": lambda: find_repairs(t, usual),
        "cubic at the wheel's passages": lambda: monotone_cubic(t, count, wheel),
    }
    return {name: 1e9 * seconds / events for name, seconds in medians(passes, 5).items()}


def bars(events: int) -> list[Bar]:
    """Return the lines of the table."""
    lines = []
    for name, missed in MISSED.items():
        total = sum(steps_of(events, missed).values())
        bar = 300.0 if missed <= 0.001 else None
        lines.append(Bar(f"running medians, repair and interpolation, {name}", total, "ns an event", bar))
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--events", type=int, default=1_000_000)
    options = parser.parse_args()
    print(f"nanoseconds an event, {options.events} flyer events; processor time, medians of five")
    for name, missed in MISSED.items():
        steps = steps_of(options.events, missed)
        for step, ns in steps.items():
            print(f"{name:20s}{step:32s}{ns:8.1f}")
        print(f"{name:20s}{'together':32s}{sum(steps.values()):8.1f}")


if __name__ == "__main__":
    main()
