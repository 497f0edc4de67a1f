"""Bursts of slip found, placed and sized, and false ones an hour: `python tests/accuracy/bursts.py`.

Every row is of simulated logs against their truth, some 17 bursts a log; quiet rows have none. Bars: 95 % found, begun
within half a wheel turn and sized within 10 %; one false in an hour.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.accuracy import kept_tables
from tests.accuracy.burst_logs import FOUR, Count, bursts_at_random, counted, quick_bursts

from whorlpulse.simulate import DriveWheel, Foot, Scenario, Sensor, scenario

MISSES = Sensor("f", missed=0.03)
FAULTY = Sensor("f", missed=0.03, doubled=0.02)
HARD = {"foot": Foot(sharpness=2.5, wander=0.05), "wheel": DriveWheel(inertia_kgm2=0.05)}

Make = Callable[[int], Scenario]
BURSTS: dict[str, Make] = {
    "four wheel targets": lambda n: bursts_at_random(n, (Sensor("w", FOUR), Sensor("f"))),
    "two flyer targets": lambda n: bursts_at_random(n, (Sensor("w", FOUR), Sensor("f", (0.0, 0.5), width=0.02))),
    "a hard foot": lambda n: bursts_at_random(n, (Sensor("w", FOUR), Sensor("f")), **HARD),
    "one wheel target": lambda n: bursts_at_random(n, (Sensor("w"), Sensor("f"))),
    "quick, four wheel targets": lambda n: quick_bursts(n, (Sensor("w", FOUR), Sensor("f"))),
    "quick, one wheel target": lambda n: quick_bursts(n, (Sensor("w"), Sensor("f"))),
    "3 % missed, four wheel targets": lambda n: bursts_at_random(n, (Sensor("w", FOUR), MISSES)),
    "3 % missed, one wheel target": lambda n: bursts_at_random(n, (Sensor("w"), MISSES)),
    "3 % missed, 2 % doubled, four": lambda n: bursts_at_random(n, (Sensor("w", FOUR), FAULTY)),
    "3 % missed, 2 % doubled, one": lambda n: bursts_at_random(n, (Sensor("w"), FAULTY)),
    "3 % missed, two flyer targets": lambda n: bursts_at_random(
        n, (Sensor("w", FOUR), Sensor("f", (0.0, 0.5), width=0.02, missed=0.03))
    ),
    "3 % missed, a hard foot": lambda n: bursts_at_random(n, (Sensor("w", FOUR), MISSES), **HARD),
}
QUIET: dict[str, Make] = {
    "quiet, sound": lambda _: replace(scenario("steady"), sensors=(Sensor("w", FOUR), Sensor("f"))).lasting(600.0),
    "quiet, 3 % missed": lambda _: replace(scenario("steady"), sensors=(Sensor("w", FOUR), MISSES)).lasting(600.0),
    "quiet, 3 % missed, 2 % doubled": lambda _: replace(
        scenario("steady"), sensors=(Sensor("w", FOUR), FAULTY)
    ).lasting(600.0),
    "quiet, the same, one target": lambda _: replace(scenario("steady"), sensors=(Sensor("w"), FAULTY)).lasting(600.0),
    "quiet, the same, a hard foot": lambda _: replace(
        scenario("hard-uneven"), sensors=(Sensor("w", FOUR), FAULTY)
    ).lasting(600.0),
}


def row(make: Make, seeds: range) -> Count:
    """Judge one kind of log."""
    return counted((make(seed), seed) for seed in seeds)


def line(name: str, count: Count) -> str:
    """One row of the table."""
    found, placed, sized = "-", "-", "-"
    if count.there:
        found = f"{count.found}/{count.there} {100.0 * count.found_part:.1f} %"
        placed, sized = (f"{100.0 * n / max(count.found, 1):.1f} %" for n in (count.placed, count.sized))
    return f"| {name} | {found} | {placed} | {sized} | {count.false} in {count.hours:.1f} h |"


HEAD = (
    "| logs | found | begun within ½ wheel turn | sized within 10 % | false |",
    "| --- | ---: | ---: | ---: | ---: |",
)


def main() -> None:
    parser = kept_tables.options(__doc__, 12, first=20)
    parser.add_argument("--only", default="", help="rows whose name has this in it")
    asked = parser.parse_args()
    seeds = range(asked.first, asked.first + asked.logs)
    rows = [line(name, row(make, seeds)) for name, make in {**BURSTS, **QUIET}.items() if asked.only in name]
    kept_tables.show("bursts", (*HEAD, *rows), write=asked.write and not asked.only)


if __name__ == "__main__":
    main()
