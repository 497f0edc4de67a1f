"""The ratios on a bench card, and on the card of another day: `python tests/accuracy/survey.py`.

Three whorls a log. Held: how many of the cards' 95 % intervals have the shafts' own ratio of that run in them, and how
many the ratio of the same whorl on another simulated day.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.accuracy import kept_tables

from whorlpulse.actions.recording import read_recording
from whorlpulse.actions.survey import survey
from whorlpulse.cli.inputs import Given, rig_of
from whorlpulse.findings.survey_report import WheelFacts, WhorlCard
from whorlpulse.simulate import Truth, scenario, simulate

ANOTHER_DAY = 10_000


@dataclass
class Cards:
    """Relative errors (percent) against the same run, and how many intervals held it, and another day's."""

    off: list[float] = field(default_factory=list)
    held: int = 0
    repeated: int = 0
    repeats: int = 0
    wheels: int = 0


def card(seed: int) -> tuple[tuple[WhorlCard, ...], Truth]:
    """The bench card of one simulated log with three whorls, and its truth."""
    capture = simulate(scenario("three-whorls"), seed)
    recording = read_recording(lambda: [capture.log], "log.pulses")
    rig, _ = rig_of(recording, Given(), needs_length=False)
    return tuple(survey(recording, rig, WheelFacts()).whorls), capture.truth


def cards(seeds: Iterable[int]) -> Cards:
    """Measure these wheels, each on two days."""
    total = Cards()
    for seed in seeds:
        said, truth = card(seed)
        again = simulate(scenario("three-whorls"), seed + ANOTHER_DAY).truth
        total.wheels += 1
        ascending = (sorted(r.ratio for r in t.runs) for t in (truth, again))
        for whorl, true, later in zip(said, *ascending, strict=True):
            low, high = whorl.ratio.low, whorl.ratio.high
            total.off.append(100.0 * (whorl.ratio.value / true - 1.0))
            total.held += low <= true <= high
            total.repeated += low <= later <= high
            total.repeats += 1
    return total


def main() -> None:
    asked = kept_tables.options(__doc__, 24).parse_args()
    found = cards(range(asked.first, asked.first + asked.logs))
    off, of = np.array(found.off), len(found.off)
    lines = [
        "| bench cards | mean error | worst | ± held, same run | ± held, another day |",
        "| --- | ---: | ---: | ---: | ---: |",
        f"| {found.wheels} logs of three whorls | {off.mean():+.4f} % | {np.abs(off).max():.4f} % "
        f"| {found.held}/{of} | {found.repeated}/{found.repeats} {100.0 * found.repeated / found.repeats:.0f} % |",
    ]
    kept_tables.show("survey", lines, write=asked.write)


if __name__ == "__main__":
    main()
