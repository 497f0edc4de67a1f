"""Draws found, stretches off plan, and length by a roller that misses pulses: `python tests/accuracy/draws.py`.

Simulated yarn against its truth. A draw is found if it began to wind on, and was in, within 0.3 s; a soft stretch if it
is the only one said and both ends are within 0.3 m (the bar).
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.accuracy import kept_tables
from tests.accuracy.rows import soft_stretch
from tests.accuracy.trial import trial, true_twist_tpm
from tests.draws.ways import CLEAN, FAULTY, FAULTY_LINES, FOUR, long_draw, spun, within

from whorlpulse.length import measured_length
from whorlpulse.pulses import ROLLER, Flag
from whorlpulse.simulate import Scenario, Sensor, scenario

NEAR_S = 0.3
MISSES = Sensor("y", FOUR, width=0.05, missed=0.03)
DRAWS: dict[str, Scenario] = {
    "long draws": long_draw(20.0, sensors=CLEAN),
    "the same, 3 % missed, 2 % doubled, lost and garbled lines": long_draw(
        20.0, sensors=FAULTY, line_faults=FAULTY_LINES
    ),
    "the same, one roller target": long_draw(20.0, sensors=(Sensor("w"), Sensor("f"), Sensor("y"))),
}
ROLLERS: dict[str, tuple[str, Sensor]] = {
    "skein, sound": ("skein-on-plan", Sensor("y", FOUR, width=0.05)),
    "skein, 3 % missed": ("skein-on-plan", MISSES),
    "long draws, 3 % missed": ("long-draw", MISSES),
    "without pause, 3 % missed": ("continuous-take-up", MISSES),
    "short draws, 3 % missed": ("worsted-style", MISSES),
    "skein, 3 % missed, one target": ("skein-on-plan", Sensor("y", width=0.05, missed=0.03)),
}


@dataclass
class Lengths:
    """Relative errors of the length and of the twist (percent), passages missed and put in, intervals that held."""

    length: list[float] = field(default_factory=list)
    twist: list[float] = field(default_factory=list)
    missed: int = 0
    put_in: int = 0
    held: int = 0


def by_roller(name: str, sensor: Sensor, seeds: Iterable[int]) -> Lengths:
    """Measure the length and the twist of this scenario's yarn with that roller's sensor."""
    base, total = scenario(name), Lengths()
    case = replace(base, sensors=tuple(sensor if s.channel == "y" else s for s in base.sensors))
    for seed in seeds:
        made = trial(case, seed)
        yarn, said = measured_length(made.conditioned, made.rig), made.twist()
        assert yarn is not None
        assert said.twist is not None
        true_m = float(made.truth.length_m_at(yarn.pieces[-1].end_s) - made.truth.length_m_at(yarn.pieces[0].start_s))
        true_tpm = true_twist_tpm(made.truth, said)
        total.length.append(100.0 * (yarn.total_m / true_m - 1.0))
        total.twist.append(100.0 * (said.twist.value / true_tpm - 1.0))
        total.missed += made.truth.reports["y"].missed
        total.put_in += int(np.count_nonzero(made.conditioned.trains[ROLLER].flag & Flag.FILLED))
        total.held += said.twist.low <= true_tpm <= said.twist.high
    return total


def draws_line(name: str, case: Scenario, seeds: Iterable[int]) -> str:
    """One row: how many draws were found."""
    hits, extra = [], 0
    for seed in seeds:
        found = spun(case, seed)
        hits += within(found, NEAR_S)
        extra += max(len(found.found.draws) - len(found.truth), 0)
    return f"| {name} | {sum(hits)}/{len(hits)} {100.0 * np.mean(hits):.1f} % | {extra} |"


def roller_line(name: str, seeds: range) -> str:
    """One row: length and twist by a roller."""
    found = by_roller(*ROLLERS[name], seeds)
    length, twist = (f"{np.mean(x):+.2f} % | {np.abs(x).max():.2f} %" for x in (found.length, found.twist))
    return f"| {name} | {found.missed} | {found.put_in} | {length} | {twist} | {found.held}/{len(seeds)} |"


def stretch_line(seeds: range) -> str:
    """In words, how the soft stretch of `skein-soft` was found."""
    row = soft_stretch(seeds)
    worst = f"ends off by {row.worst:.1f} cm at most" if row.errors else "no ends"
    return f"A soft stretch of 1.4 m in 10 m: found in {len(row.errors) // 2} of {len(seeds)} logs, {worst} (bar 30)."


def main() -> None:
    asked = kept_tables.options(__doc__, 8).parse_args()
    seeds = range(asked.first, asked.first + asked.logs)
    quarter = range(asked.first, asked.first + max(asked.logs // 4, 1))
    lines = ["| draws, 20 minutes a log | found within 0.3 s | too many |", "| --- | ---: | ---: |"]
    lines += [draws_line(name, case, quarter) for name, case in DRAWS.items()]
    lines += ["", stretch_line(range(asked.first, asked.first + 5 * asked.logs)), ""]
    lines += ["| roller | missed | put in | length, mean | worst | twist, mean | worst | ± held |"]
    lines += ["| --- |" + " ---: |" * 7, *(roller_line(name, seeds) for name in ROLLERS)]
    kept_tables.show("draws", lines, write=asked.write)


if __name__ == "__main__":
    main()
