"""Double drive, in which the band slips by design: false findings and creep: `python tests/accuracy/by_design.py`.

An hour a log with the bobbin sensed, for every share g by which the flyer is carried along; and bursts that are not
meant.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.accuracy import kept_tables
from tests.accuracy.burst_logs import Count
from tests.accuracy.trial import trial
from tests.tension.spun import case
from tests.tension.test_slip_by_design import BURSTS, SENSED, faults, slip_of

from whorlpulse.simulate import Band, Scenario

GIVES = (0.0, 0.25, 0.5, 0.75, 1.0)
BURSTING: dict[str, Scenario] = {
    "bursts, double drive, g = 0": case("double-drive-skein", roller=None, sensors=SENSED, band=Band(bursts=BURSTS)),
    "bursts, double drive, g = 0.5": case(
        "double-drive-skein", roller=None, sensors=SENSED, band=Band(bursts=BURSTS), flyer_gives=0.5
    ),
    "bursts, double drive, g = 1": case(
        "double-drive-skein", roller=None, sensors=SENSED, band=Band(bursts=BURSTS), flyer_gives=1.0
    ),
    "bursts, bobbin-led": case("irish-skein", roller=None, sensors=SENSED, band=Band(bursts=BURSTS)),
}


@dataclass
class Quiet:
    """Hours, false findings in them, and the largest errors of the share g and of the creep (points)."""

    hours: float = 0.0
    false: int = 0
    give_off: float = 0.0
    creep_off: float = 0.0


def quiet(gives: float, seeds: Iterable[int], duration_s: float = 3600.0) -> Quiet:
    """Judge logs of a double drive that carries the flyer along by the share `gives`, without a fault."""
    scene = replace(case("double-drive-skein", roller=None, sensors=SENSED), flyer_gives=gives).lasting(duration_s)
    total = Quiet()
    for seed in seeds:
        report, truth = slip_of(scene, seed)
        total.hours += truth.duration_s / 3600.0
        total.false += len(faults(report))
        total.give_off = max(total.give_off, abs(report.found.give.value - gives))
        total.creep_off = max(total.creep_off, abs(100.0 * report.found.creep.value - truth.creep_percent))
    return total


def bursting(scene: Scenario, seeds: Iterable[int]) -> Count:
    """Judge logs with bursts that are not meant."""
    count = Count()
    for seed in seeds:
        report, _ = slip_of(scene, seed)
        count.add_estimate(trial(scene, seed), report.found)
    return count


def main() -> None:
    asked = kept_tables.options(__doc__, 4).parse_args()
    seeds = range(asked.first, asked.first + asked.logs)
    lines = ["| double drive, g | hours | false findings | g off by | creep off by, points |"]
    lines += ["| ---: |" + " ---: |" * 4]
    for gives in GIVES:
        found = quiet(gives, seeds)
        lines.append(
            f"| {gives:.2f} | {found.hours:.1f} | {found.false} | {found.give_off:.4f} | {found.creep_off:.3f} |"
        )
    lines += ["", "| bursts of 0.5 to 1.5 turns | found | sized within 10 % | false |", "| --- | ---: | ---: | ---: |"]
    for name, scene in BURSTING.items():
        count = bursting(scene, seeds)
        lines.append(f"| {name} | {count.found}/{count.there} | {count.sized}/{count.found} | {count.false} |")
    kept_tables.show("by_design", lines, write=asked.write)


if __name__ == "__main__":
    main()
