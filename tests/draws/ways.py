"""Logs of several ways of drafting, with what cheap sensors do to them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from tests.accuracy.trial import Trial, trial

from whorlpulse.estimators.draws import Draws, find_draws
from whorlpulse.length import measured_length
from whorlpulse.phase import flyer_count
from whorlpulse.simulate import LineFaults, Scenario, Sensor, Stop, Treadling, TrueDrawTimes, draw_times, scenario

FOUR = (0.0, 0.25, 0.5, 0.75)
CLEAN = (Sensor("w"), Sensor("f"), Sensor("y", FOUR, width=0.05))
#: As the design's bar for a faulty log: 3 % missed, 2 % doubled, bounces, garbled lines, lost blocks.
FAULTY = (
    Sensor("w", bounced=0.05),
    Sensor("f", missed=0.03, doubled=0.02),
    Sensor("y", FOUR, width=0.05, missed=0.03, doubled=0.02, bounced=0.03),
)
FAULTY_LINES = LineFaults(lost_blocks=(15, 15), garbled=6)
WITH_RESTS = (
    *(Stop(1.5), Treadling(300.0, 66.0, 1), Stop(600.0, 1.0), Treadling(300.0, 60.0, 1), Stop(60.0, 1.0)),
    *(Treadling(300.0, 60.0, 1), Stop(4.0)),
)


@dataclass(frozen=True)
class Spun:
    """A simulated log, its draws as found, and as they were."""

    trial: Trial
    found: Draws
    truth: tuple[TrueDrawTimes, ...]


def spun(case: Scenario, seed: int) -> Spun:
    """Simulate a log and find its draws."""
    made = trial(case, seed)
    yarn, flyer = measured_length(made.conditioned, made.rig), flyer_count(made.conditioned)
    assert yarn is not None
    assert flyer is not None
    return Spun(made, find_draws(made.conditioned, made.rig, yarn, flyer), draw_times(made.truth))


def long_draw(minutes: float, **changes: object) -> Scenario:
    """The long-draw scenario, lasting so many minutes."""
    base = replace(scenario("long-draw"), phases=(Stop(1.5), Treadling(60.0 * minutes, 66.0, 1), Stop(4.0)))
    return replace(base, **changes)


def within(case: Spun, seconds: float) -> list[bool]:
    """For each true draw whether one was found that began to wind on, and was in, so close to it."""
    ends = np.array([d.end_s for d in case.found.draws])
    begins = np.array([d.winding_s if d.winding_s is not None else np.inf for d in case.found.draws])
    return [
        bool(np.any((np.abs(ends - d.end_s) <= seconds) & (np.abs(begins - d.winding_s) <= seconds)))
        for d in case.truth
    ]
