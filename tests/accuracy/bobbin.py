"""Length and twist from the bobbin's pulses: `python tests/accuracy/bobbin.py`.

Simulated bobbins that fill in uneven layers, against their truth; with the wheel file that their spinner would have.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.accuracy import kept_tables
from tests.tension.spun import FLYER_AND_BOBBIN, case, spun

from whorlpulse.simulate import Roller, Scenario, Sensor, scenario

MISSES = (Sensor("w"), Sensor("f", missed=0.01), Sensor("b", missed=0.01, doubled=0.005))
WHEEL_AND_BOBBIN = (Sensor("w"), Sensor("b"), Sensor("y", (0.0, 0.25, 0.5, 0.75), width=0.05))
EXACT = replace(scenario("filling-bobbin").bobbin, gauge_m=(0.0, 0.0))
LENGTHS: dict[str, Scenario] = {
    "length, diameters exact": case("filling-bobbin", bobbin=EXACT),
    "length, measured to 0.1 and 0.5 mm": case("filling-bobbin"),
    "the same, 1 % missed on both shafts": case("filling-bobbin", sensors=MISSES),
    "length, bobbin-led, 1 mm of yarn": case("irish-skein", roller=None, sensors=FLYER_AND_BOBBIN),
    "length, double drive, 1 mm of yarn": case("double-drive-skein", roller=None, sensors=FLYER_AND_BOBBIN),
}
TWISTS: dict[str, Scenario] = {
    "twist, flyer not sensed, flyer-led": case("skein-on-plan", sensors=WHEEL_AND_BOBBIN, roller=Roller()),
    "twist, flyer not sensed, bobbin-led": case("bobbin-only", sensors=WHEEL_AND_BOBBIN, roller=Roller()),
    "twist, flyer not sensed, double drive": case("double-drive-skein", sensors=WHEEL_AND_BOBBIN, roller=Roller()),
}


@dataclass
class Errors:
    """Relative errors in percent, the standard uncertainties said, and how many 95 % intervals held the truth."""

    off: list[float] = field(default_factory=list)
    u: list[float] = field(default_factory=list)
    held: int = 0

    def add(self, value: float, low: float, high: float, true: float) -> None:
        self.off.append(100.0 * (value / true - 1.0))
        self.u.append(100.0 * (high - low) / (2 * 1.96 * true))
        self.held += low <= true <= high

    def line(self, name: str) -> str:
        """One row of the table."""
        off = np.array(self.off)
        cells = (f"{off.mean():+.2f} %", f"{np.sqrt(np.mean(off**2)):.2f} %", f"{np.abs(off).max():.2f} %")
        return f"| {name} | {' | '.join(cells)} | {np.mean(self.u):.2f} % | {self.held}/{len(off)} |"


def length_errors(scene: Scenario, seeds: Iterable[int]) -> Errors:
    """How far the lengths wound on are off."""
    total = Errors()
    for seed in seeds:
        one = spun(scene, seed)
        assert one.said.length_source == "bobbin"
        total.add(one.said.length.value, one.said.length.low, one.said.length.high, one.true_length_m)
    return total


def twist_errors(scene: Scenario, seeds: Iterable[int]) -> Errors:
    """How far the twist is off where only the bobbin's turns are sensed."""
    total = Errors()
    for seed in seeds:
        one = spun(scene, seed)
        assert one.said.flyer_unseen
        total.add(one.said.twist.value, one.said.twist.low, one.said.twist.high, one.true_tpm)
    return total


HEAD = (
    "| what | mean error | r.m.s. | worst | u said | 95 % intervals that held |",
    "| --- | ---: | ---: | ---: | ---: | ---: |",
)


def main() -> None:
    asked = kept_tables.options(__doc__, 24).parse_args()
    seeds = range(asked.first, asked.first + asked.logs)
    rows = [length_errors(scene, seeds).line(name) for name, scene in LENGTHS.items()]
    rows += [twist_errors(scene, seeds).line(name) for name, scene in TWISTS.items()]
    kept_tables.show("bobbin", (*HEAD, *rows), write=asked.write)


if __name__ == "__main__":
    main()
