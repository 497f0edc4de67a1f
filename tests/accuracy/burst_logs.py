"""Simulated logs with planned bursts of slip, and how an estimate's bursts fit the true ones."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from tests.accuracy.trial import Trial, trial

from whorlpulse.estimators.slip import SlipEstimate, estimate_slip
from whorlpulse.simulate import Band, Scenario, Sensor, SlipBurst, TrueBurst, scenario

FOUR = (0.0, 0.25, 0.5, 0.75)
CLEAN = (Sensor("w", FOUR), Sensor("f"))
#: A found burst belongs to a true one that it overlaps, so many seconds either way.
NEAR_S = 0.5
#: Bars: onset in wheel turns, size as a part of the turns lost.
ONSET_TURNS, SIZE_PART = 0.5, 0.10


def bursts_at_random(seed: int, sensors: tuple[Sensor, ...] = CLEAN, **changed: object) -> Scenario:
    """185 s with about 17 bursts of 0.5 to 2 flyer turns over 0.4 to 1.3 s at any moment."""
    rng, at_s, bursts = np.random.default_rng(seed), 6.0, []
    while at_s < 170.0:
        lost = float(rng.uniform(0.5, 2.0))
        bursts.append(SlipBurst(at_s, lost, float(rng.uniform(0.25, 0.45)) * (1.0 + lost)))
        at_s += float(rng.uniform(6.0, 14.0))
    return _with(bursts, sensors, **changed)


def quick_bursts(seed: int, sensors: tuple[Sensor, ...] = CLEAN, **changed: object) -> Scenario:
    """As many bursts, of 0.5 to 2.2 turns within 0.25 to 0.75 s."""
    rng, at_s, bursts = np.random.default_rng(seed), 6.0, []
    while at_s < 170.0:
        lost = float(rng.uniform(0.5, 2.2))
        # below 0.34 s a turn the simulated flyer would turn back
        bursts.append(SlipBurst(at_s, lost, max(float(rng.uniform(0.25, 0.6)), 0.34 * lost)))
        at_s += float(rng.uniform(6.0, 14.0))
    return _with(bursts, sensors, **changed)


def _with(bursts: list[SlipBurst], sensors: tuple[Sensor, ...], **changed: object) -> Scenario:
    case = scenario("planned-bursts").lasting(185.0)
    return replace(replace(case, band=Band(bursts=tuple(bursts)), sensors=sensors), **changed)


@dataclass
class Count:
    """How many bursts there were, were found, begun within half a wheel turn, sized within 10 %; false ones; hours.

    miscounted: flyer passages too many or too few, over all logs.
    """

    there: int = 0
    found: int = 0
    placed: int = 0
    sized: int = 0
    false: int = 0
    hours: float = 0.0

    @property
    def found_part(self) -> float:
        return self.found / self.there if self.there else float("nan")

    def add(self, made: Trial) -> None:
        """Judge one log's bursts."""
        self.add_estimate(made, estimate_slip(made.conditioned, made.rig))

    def add_estimate(self, made: Trial, said: SlipEstimate) -> None:
        """Judge what was said of one log: each found burst belongs to one true burst at most."""
        truth, used = made.truth, set[int]()
        for true in truth.bursts:
            self.there += 1
            mine = [i for i in overlapping(said, true) if i not in used]
            if not mine:
                continue
            best = max(mine, key=lambda i: said.bursts[i].lost)
            used.add(best)
            start, lost = said.bursts[best].start_s, said.bursts[best].lost
            late = float(truth.wheel_turns_at(start) - truth.wheel_turns_at(true.start_s))
            self.found += 1
            self.placed += abs(late) <= ONSET_TURNS
            self.sized += abs(lost / true.lost_turns - 1.0) <= SIZE_PART
        self.false += len(said.bursts) - len(used)
        self.hours += truth.duration_s / 3600.0


def overlapping(said: SlipEstimate, true: TrueBurst) -> list[int]:
    """Which of the found bursts overlap the true one."""
    near = enumerate(said.bursts)
    return [i for i, b in near if b.start_s < true.end_s + NEAR_S and b.end_s > true.start_s - NEAR_S]


def counted(cases: Iterable[tuple[Scenario, int]]) -> Count:
    """Judge these scenarios with their seeds."""
    total = Count()
    for case, seed in cases:
        total.add(trial(case, seed))
    return total
