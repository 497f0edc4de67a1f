"""Phase after phase: runs, stops, hand-rolling, joined to one path for each shaft."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from .coupling import Drive
from .foot import wandering
from .hand import hand_roll
from .losses import Burst, Run, lossy, scheduled
from .path import Path, joined
from .runs import KinematicRun, MechanicalRun, RunInMaking
from .scenario import Scenario, Stop, Treadling

_REST_S = 0.01


class Roll(NamedTuple):
    """The wheel was rolled by hand from start_s to end_s; turns: the net angle."""

    start_s: float
    end_s: float
    turns: float


class Chances(NamedTuple):
    """Independent random streams, so that a change in one part leaves the others' draws alone."""

    start: np.random.Generator
    foot: np.random.Generator
    hand: np.random.Generator
    band: np.random.Generator


@dataclass(frozen=True)
class Motion:
    """What the shafts did. Times in seconds since the board's start.

    driven: the shaft that the band drives (see `tension`); flyer: the flyer itself, at first the same.
    """

    wheel: Path
    driven: Path
    flyer: Path
    runs: tuple[Run, ...]
    bursts: tuple[Burst, ...]
    rolls: tuple[Roll, ...]


class _Course:
    """The motion so far."""

    def __init__(self, scenario: Scenario, winding_at: list[float], chances: Chances) -> None:
        self.scenario, self.chances = scenario, chances
        self.t_s, self.wheel_turns, self.flyer_turns = 0.0, float(chances.start.random()), 0.0
        self.parts: list[tuple[Path, Path]] = []
        self.runs: list[Run] = []
        self.bursts: list[Burst] = []
        self.rolls: list[Roll] = []
        self.winding_at: list[float] = (2.0 * np.pi * np.array(winding_at)).tolist()

    def add(self, wheel: Path, flyer: Path) -> None:
        self.parts.append((wheel, flyer))
        self.t_s = float(wheel.t_s[-1])
        self.wheel_turns, self.flyer_turns = float(wheel.turns[-1]), float(flyer.turns[-1])

    def begin(self, phase: Treadling) -> RunInMaking:
        drive, start = _drive(self.scenario, phase), (self.wheel_turns, self.flyer_turns)
        if self.scenario.motion == "kinematic":
            return KinematicRun(drive, self.scenario.step_s, start, self.chances.foot)
        moods = wandering(self.scenario.foot, 60.0 / phase.cadence_per_min, self.chances.foot)
        return MechanicalRun(drive, self.scenario.step_s, start, moods, self.winding_at)

    def close(self, run: RunInMaking, whorl: int) -> None:
        start = self.t_s
        wheel, flyer = (Path(p.t_s + start, p.turns, p.speed) for p in run.paths())
        self.bursts += [replace(b, start_s=b.start_s + start, end_s=b.end_s + start) for b in run.bursts()]
        self.add(wheel, flyer)
        self.runs.append(Run(start, self.t_s, whorl, run.drive.ratio))

    def stand(self, until_s: float) -> None:
        if until_s - self.t_s < _REST_S:
            return
        t, still = np.array([self.t_s, until_s]), np.zeros(2)
        self.add(Path(t, still + self.wheel_turns, still), Path(t, still + self.flyer_turns, still))

    def roll(self, turns: float, until_s: float, ratio: float) -> None:
        t, angle, speed = hand_roll(turns, until_s - self.t_s, self.chances.hand)
        start = self.t_s
        wheel = Path(start + t, self.wheel_turns + angle, speed)
        self.add(wheel, Path(start + t, self.flyer_turns + ratio * angle, ratio * speed))
        moving = np.flatnonzero(speed)
        begun, ended = float(start + t[moving[0] - 1]), float(start + t[moving[-1] + 1])
        self.rolls.append(Roll(begun, ended, float(angle[-1])))


def moved(scenario: Scenario, winding_at: list[float], chances: Chances) -> Motion:
    """Return the motion of wheel and driven shaft over all phases of the scenario.

    winding_at: turns of the driven shaft at which winding-on begins and ends by turns.

    Raises ValueError where the whorl changes while the wheel turns, or a stop is too short for its rolling.
    """
    course = _Course(scenario, winding_at, chances)
    run: RunInMaking | None = None
    whorl, ratio, boundary, since = -1, 1.0, 0.0, 0.0
    for phase in scenario.phases:
        boundary += phase.duration_s
        if isinstance(phase, Treadling):
            if run is None:
                run, whorl, ratio = course.begin(phase), phase.whorl, scenario.no_slip_ratio(phase)
                since = course.t_s
            elif phase.whorl != whorl or scenario.no_slip_ratio(phase) != ratio:
                raise ValueError("the whorl cannot change while the wheel turns: put a longer Stop before")
            run.treadle(_drive(scenario, phase), boundary - since)
            since = boundary
            continue
        if run is not None:
            rests = run.run_down(boundary - since)
            since = boundary
            if not rests:
                continue
            course.close(run, whorl)
            run = None
        _rest(course, phase, boundary, ratio)
    if run is not None:
        course.close(run, whorl)
    return _joined(course)


def _rest(course: _Course, stop: Stop, until_s: float, ratio: float) -> None:
    if stop.hand_roll_turns:
        course.roll(stop.hand_roll_turns, until_s, ratio)
    course.stand(until_s)


def _joined(course: _Course) -> Motion:
    if not course.runs:
        raise ValueError("a scenario needs a Treadling phase")
    wheel, flyer = joined([w for w, _ in course.parts]), joined([f for _, f in course.parts])
    band = course.scenario.band
    flyer = lossy(wheel, flyer, course.runs, band, course.chances.band)
    bursts = sorted([*course.bursts, *scheduled(band)], key=lambda b: b.start_s)
    return Motion(wheel, flyer, flyer, tuple(course.runs), tuple(bursts), tuple(course.rolls))


def _drive(scenario: Scenario, phase: Treadling) -> Drive:
    return Drive(
        scenario.wheel,
        scenario.flyer,
        scenario.band,
        scenario.foot,
        scenario.no_slip_ratio(phase),
        phase.cadence_per_min,
    )
