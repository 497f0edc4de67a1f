"""Truth first, then what a cheap sensor would report: pulse logs of an invented wheel, with what really was."""

from .band import Band, PeriodicLoss, SlipBurst
from .bench import scenario, scenario_names
from .board import Board
from .bobbin import Bobbin
from .capture import Capture, simulate
from .coupling import DriveWheel, Flyer
from .draws_truth import TrueDrawTimes, draw_times
from .foot import Foot
from .line_faults import LineFaults
from .scenario import Groove, Marks, Roller, Scenario, Stop, Treadling
from .sensors import Sensor
from .truth import TrueBurst, TrueDraw, TrueRun, Truth
from .yarn import OffPlan, Yarn

__all__ = [
    "Band",
    "Board",
    "Bobbin",
    "Capture",
    "DriveWheel",
    "Flyer",
    "Foot",
    "Groove",
    "LineFaults",
    "Marks",
    "OffPlan",
    "PeriodicLoss",
    "Roller",
    "Scenario",
    "Sensor",
    "SlipBurst",
    "Stop",
    "Treadling",
    "TrueBurst",
    "TrueDraw",
    "TrueDrawTimes",
    "TrueRun",
    "Truth",
    "Yarn",
    "draw_times",
    "scenario",
    "scenario_names",
    "simulate",
]
