"""A scenario: everything that is simulated, as one tree of frozen values that a test may replace."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

from .band import Band
from .board import Board
from .bobbin import Bobbin
from .coupling import DriveWheel, Flyer
from .foot import Foot
from .line_faults import LineFaults
from .sensors import Sensor
from .tension import Tension
from .yarn import Yarn


@dataclass(frozen=True)
class Groove:
    """One whorl: its name and its diameter under the band in metres."""

    name: str
    diameter_m: float


@dataclass(frozen=True)
class Treadling:
    """Treadle for duration_s on whorl number `whorl`. ratio: no-slip ratio, else from the diameters."""

    duration_s: float
    cadence_per_min: float = 60.0
    whorl: int = 0
    ratio: float | None = None


@dataclass(frozen=True)
class Stop:
    """Let the wheel run down and stand; it may then be rolled by hand over hand_roll_turns and part back."""

    duration_s: float
    hand_roll_turns: float = 0.0


@dataclass(frozen=True)
class Roller:
    """The measuring roller: length of yarn for one turn, as its owner states it, and how wrong that is."""

    length_m: float = 0.10
    error: float = 0.0


@dataclass(frozen=True)
class Marks:
    """`length` lines: one every so many draws, rounded to round_m, entered late_s after winding-on."""

    every_draws: int = 1
    round_m: float = 0.01
    late_s: float = 0.5


BENCH_WHORLS = (Groove("large", 0.080), Groove("middle", 0.058), Groove("small", 0.0413))


@dataclass(frozen=True)
class Scenario:
    """One capture to be. motion: "mechanical" (foot, inertia, creep, grip) or "kinematic".

    Kinematic motion has a prescribed smooth wheel speed and a flyer at exactly the no-slip ratio, less the
    band's random, periodic and scheduled losses: for tests of estimators. step_s: time between the
    nodes of the motion. says: one line for a list of scenarios. tension, flyer_gives: see `tension`; the latter is the
    share g in double drive (0: the band slips on the bobbin's whorl while nothing is wound on, 1: on the flyer's).
    """

    name: str
    says: str
    phases: tuple[Treadling | Stop, ...]
    motion: Literal["mechanical", "kinematic"] = "mechanical"
    wheel: DriveWheel = field(default_factory=DriveWheel)
    whorls: tuple[Groove, ...] = BENCH_WHORLS
    flyer: Flyer = field(default_factory=Flyer)
    band: Band = field(default_factory=Band)
    foot: Foot = field(default_factory=Foot)
    yarn: Yarn | None = None
    tension: Tension = "scotch"
    flyer_gives: float = 0.0
    bobbin: Bobbin = field(default_factory=Bobbin)
    roller: Roller | None = None
    marks: Marks | None = None
    sensors: tuple[Sensor, ...] = (Sensor("w"), Sensor("f"))
    board: Board = field(default_factory=Board)
    line_faults: LineFaults = field(default_factory=LineFaults)
    wheel_file: bool = True
    step_s: float = 0.005

    @property
    def duration_s(self) -> float:
        """How long the board watches, in seconds."""
        return sum(phase.duration_s for phase in self.phases)

    def lasting(self, duration_s: float) -> Scenario:
        """Return the scenario with its treadling made longer or shorter so that it lasts duration_s.

        Raises ValueError when the stops alone take as long.
        """
        treadled = sum(p.duration_s for p in self.phases if isinstance(p, Treadling))
        scale = (duration_s - self.duration_s + treadled) / treadled
        if scale <= 0.0:
            raise ValueError(f"{self.name} has {self.duration_s - treadled:g} s of stops: give a longer time")
        return replace(
            self,
            phases=tuple(
                replace(p, duration_s=p.duration_s * scale) if isinstance(p, Treadling) else p for p in self.phases
            ),
        )

    @property
    def give(self) -> float:
        """The share g of `tension` by which the flyer's turns follow the turns wound on."""
        return {"scotch": 0.0, "irish": 1.0, "double-drive": self.flyer_gives}[self.tension]

    def whorl_ratio(self, phase: Treadling) -> float:
        """Return turns of the whorl that is put to use in that phase for each wheel turn, without slip."""
        if phase.ratio is not None:
            return phase.ratio
        return self.band.no_slip_ratio(self.wheel.diameter_m, self.whorls[phase.whorl].diameter_m)

    def excess_ratio(self, phase: Treadling) -> float:
        """Return by how many turns a wheel turn the bobbin's own whorl is faster (double drive), without slip."""
        bobbin = self.band.no_slip_ratio(self.wheel.diameter_m, self.bobbin.whorl_m)
        excess = bobbin - self.whorl_ratio(phase)
        if excess <= 0.0:
            raise ValueError("in double drive the bobbin's whorl must be smaller than the flyer's")
        return excess

    def no_slip_ratio(self, phase: Treadling) -> float:
        """Return turns of the driven shaft (see `tension`) for each wheel turn without slip in that phase."""
        if self.tension != "double-drive" or self.flyer_gives == 0.0:
            return self.whorl_ratio(phase)
        return self.whorl_ratio(phase) + self.flyer_gives * self.excess_ratio(phase)

    def sensor(self, letter: str) -> Sensor | None:
        """Return the sensor on that channel, or None."""
        return next((s for s in self.sensors if s.channel == letter), None)
