"""The named scenarios: an invented bench with one unlabelled wheel, three whorls, and whoever sits at it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from .band import Band, PeriodicLoss, SlipBurst
from .bench_tensions import TENSION_SCENARIOS
from .board import Board
from .coupling import DriveWheel, Flyer
from .draws_styles import long_draw, park_and_draft, worsted_style
from .foot import Foot
from .line_faults import LineFaults
from .scenario import Marks, Roller, Scenario, Stop, Treadling
from .sensors import Sensor
from .truth import M_PER_INCH
from .yarn import OffPlan, Yarn

_LARGE, _MIDDLE, _SMALL = 0, 1, 2
_LEAD, _TAIL = Stop(1.5), Stop(4.0)
_PLAN_TPM: Final = 5.2 / M_PER_INCH
_SOFT_TPM: Final = 3.3 / M_PER_INCH
_FOUR = (0.0, 0.25, 0.5, 0.75)
_ROLLER_SENSORS = (Sensor("w"), Sensor("f"), Sensor("y", _FOUR, width=0.05))


def scenario_names() -> dict[str, str]:
    """Return every scenario's name with one line on what it shows, in the order for a list."""
    return {name: make().says for name, make in _SCENARIOS.items()}


def scenario(name: str) -> Scenario:
    """Return a named scenario. Raises ValueError, with the names there are, for any other name."""
    if name not in _SCENARIOS:
        raise ValueError(f"no scenario is called {name!r}; there are {', '.join(_SCENARIOS)}")
    return _SCENARIOS[name]()


def _steady() -> Scenario:
    return Scenario(
        "steady",
        "90 s on the middle whorl, uneven real treadling, sensors without fault",
        (_LEAD, Treadling(84.5, 62.0, _MIDDLE), _TAIL),
    )


def _faulty_sensors() -> Scenario:
    return replace(
        _steady(),
        name="faulty-sensors",
        says="as steady, but 3 % of flyer pulses missed, 2 % doubled, and 5 % of wheel pulses bounce",
        sensors=(Sensor("w", bounced=0.05), Sensor("f", missed=0.03, doubled=0.02)),
    )


def _bad_line() -> Scenario:
    return replace(
        _steady(),
        name="bad-line",
        says="30 lines lost in two blocks, garbled lines, a torn tail, and the clock wraps on the way",
        board=Board(start_tick=2**32 - 41_000_000),
        line_faults=LineFaults(lost_blocks=(15, 15), garbled=6, torn_tail=True),
    )


def _three_runs() -> Scenario:
    return Scenario(
        "three-runs",
        "three runs on one whorl; in the stops the wheel is rolled to and fro by hand",
        (
            _LEAD,
            Treadling(45.0, 60.0, _MIDDLE),
            Stop(14.0, 1.2),
            Treadling(40.0, 66.0, _MIDDLE),
            Stop(12.0, 0.7),
            Treadling(45.0, 57.0, _MIDDLE),
            _TAIL,
        ),
    )


def _three_whorls() -> Scenario:
    return Scenario(
        "three-whorls",
        "one run on each whorl, large to small, with time to move the band",
        (
            _LEAD,
            Treadling(45.0, 64.0, _LARGE),
            Stop(15.0, 0.6),
            Treadling(45.0, 60.0, _MIDDLE),
            Stop(15.0, 1.0),
            Treadling(45.0, 56.0, _SMALL),
            _TAIL,
        ),
    )


def _coarse_clock() -> Scenario:
    return Scenario(
        "coarse-clock",
        "16-bit clock at 1024 Hz that wraps every 64 s, counts reported once a second",
        (_LEAD, Treadling(154.5, 62.0, _MIDDLE), _TAIL),
        board=Board(tick_hz=1024.0, tick_bits=16, start_tick=61_000, report_every_s=1.0),
    )


def _uneven_magnets() -> Scenario:
    degrees = 1.0 / 360.0
    wheel = (0.0, (90.0 + 18.0) * degrees, (180.0 - 20.0) * degrees, (270.0 + 11.0) * degrees)
    return Scenario(
        "uneven-magnets",
        "four wheel magnets up to 20° off their places, two on the flyer at 168° and 192°",
        (_LEAD, Treadling(84.5, 58.0, _MIDDLE), _TAIL),
        sensors=(Sensor("w", wheel), Sensor("f", (0.0, 168.0 * degrees), width=0.02)),
    )


def _skein_on_plan() -> Scenario:
    return Scenario(
        "skein-on-plan",
        "a first skein, 5.2 tpi planned and spun, length from a roller",
        (_LEAD, Treadling(234.5, 60.0, _MIDDLE), _TAIL),
        yarn=Yarn(_PLAN_TPM),
        roller=Roller(),
        sensors=_ROLLER_SENSORS,
    )


def _skein_soft() -> Scenario:
    return replace(
        _skein_on_plan(),
        name="skein-soft",
        says="the same skein, but 1.4 m in its middle went soft at 3.3 tpi",
        yarn=Yarn(_PLAN_TPM, off_plan=(OffPlan(4.0, 5.4, _SOFT_TPM),)),
    )


def _skein_marks() -> Scenario:
    return replace(
        _skein_on_plan(),
        name="skein-marks",
        says="the same skein without a roller: the spinner notes each draw's length to the centimetre",
        roller=None,
        marks=Marks(),
        sensors=(Sensor("w"), Sensor("f")),
    )


def _slipping_band() -> Scenario:
    return Scenario(
        "slipping-band",
        "a slack band that lets go in bursts while yarn winds on",
        (_LEAD, Treadling(114.5, 60.0, _MIDDLE), _TAIL),
        band=Band(tension_n=1.1, grip_static=0.34, grip_sliding=0.22),
        flyer=Flyer(winding_nm=0.010),
        yarn=Yarn(_PLAN_TPM),
        roller=Roller(),
        sensors=(Sensor("w", _FOUR), Sensor("f"), Sensor("y", _FOUR, width=0.05)),
    )


def _creeping_band() -> Scenario:
    return Scenario(
        "creeping-band",
        "a stretchy band that creeps all the time and never lets go",
        (_LEAD, Treadling(114.5, 60.0, _MIDDLE), _TAIL),
        band=Band(stiffness_n=18.0, tension_n=6.0),
        yarn=Yarn(_PLAN_TPM),
        roller=Roller(),
        sensors=(Sensor("w", _FOUR), Sensor("f"), Sensor("y", _FOUR, width=0.05)),
    )


def _continuous_take_up() -> Scenario:
    return replace(
        _skein_on_plan(),
        name="continuous-take-up",
        says="yarn that goes in without pause while it is drafted",
        yarn=Yarn(_PLAN_TPM, take_up="continuous", scatter=0.04),
    )


def _planned_bursts() -> Scenario:
    bursts = tuple(
        SlipBurst(t, lost, 0.3 + 0.2 * lost) for t, lost in ((17.0, 0.6), (33.5, 1.0), (51.0, 0.5), (76.0, 1.5))
    )
    return Scenario(
        "planned-bursts",
        "a firm band with four bursts put in at known times, four wheel targets",
        (_LEAD, Treadling(94.5, 60.0, _MIDDLE), _TAIL),
        band=Band(bursts=bursts),
        sensors=(Sensor("w", _FOUR), Sensor("f")),
    )


def _bad_joint() -> Scenario:
    wheel, band = DriveWheel(), Band()
    loss = PeriodicLoss(band.per_wheel_turn(wheel.diameter_m), amplitude=0.01, mean=0.01)
    return Scenario(
        "bad-joint",
        "a band with a thick joint: it loses a little each time the joint comes round",
        (_LEAD, Treadling(114.5, 60.0, _MIDDLE), _TAIL),
        band=replace(band, periodic=(loss,)),
        sensors=(Sensor("w", _FOUR), Sensor("f")),
    )


def _hard_uneven() -> Scenario:
    return Scenario(
        "hard-uneven",
        "a light wheel stamped with one foot: the speed swings by a third within a turn",
        (_LEAD, Treadling(84.5, 46.0, _MIDDLE), _TAIL),
        wheel=DriveWheel(inertia_kgm2=0.028),
        foot=Foot(sharpness=2.5, wander=0.05),
    )


def _long_hour() -> Scenario:
    """Return an hour in which whorls, cadences and pauses follow one another without a pattern."""
    pieces = (
        (310.0, 61.0, _MIDDLE, 25.0, 0.8),
        (420.0, 66.0, _MIDDLE, 40.0, 0.0),
        (280.0, 58.0, _MIDDLE, 18.0, 1.1),
        (505.0, 63.0, _MIDDLE, 70.0, 0.4),
        (360.0, 55.0, _SMALL, 22.0, 0.9),
        (450.0, 59.0, _SMALL, 35.0, 0.0),
        (295.0, 68.0, _LARGE, 30.0, 1.4),
        (640.0, 62.0, _LARGE, 98.5, 0.5),
    )
    phases: list[Treadling | Stop] = [_LEAD]
    for lasts_s, cadence, whorl, pause_s, rolled in pieces:
        phases += [Treadling(lasts_s, cadence, whorl), Stop(pause_s, rolled)]
    return Scenario(
        "long-hour",
        "an hour of mixed spinning on three whorls, with pauses",
        tuple(phases),
        yarn=Yarn(_PLAN_TPM),
        roller=Roller(),
        sensors=_ROLLER_SENSORS,
        board=Board(sync_every_s=60.0, clock_error_ppm=800.0),
    )


_SCENARIOS: Final[dict[str, Callable[[], Scenario]]] = {
    "steady": _steady,
    "faulty-sensors": _faulty_sensors,
    "bad-line": _bad_line,
    "three-runs": _three_runs,
    "three-whorls": _three_whorls,
    "coarse-clock": _coarse_clock,
    "uneven-magnets": _uneven_magnets,
    "skein-on-plan": _skein_on_plan,
    "skein-soft": _skein_soft,
    "skein-marks": _skein_marks,
    "continuous-take-up": _continuous_take_up,
    "long-draw": long_draw,
    "park-and-draft": park_and_draft,
    "worsted-style": worsted_style,
    "slipping-band": _slipping_band,
    "planned-bursts": _planned_bursts,
    "creeping-band": _creeping_band,
    "bad-joint": _bad_joint,
    "hard-uneven": _hard_uneven,
    "long-hour": _long_hour,
    **TENSION_SCENARIOS,
}
