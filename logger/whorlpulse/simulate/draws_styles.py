"""Ways of drafting as scenarios: the long draw, park and draft, and yarn fed in while it is drafted inch by inch."""

from __future__ import annotations

from .scenario import Roller, Scenario, Stop, Treadling
from .sensors import Sensor
from .yarn import Yarn

_PER_INCH = 1.0 / 0.0254
_MIDDLE = 1
_LEAD, _TAIL = Stop(1.5), Stop(4.0)
_SENSORS = (Sensor("w"), Sensor("f"), Sensor("y", (0.0, 0.25, 0.5, 0.75), width=0.05))


def long_draw() -> Scenario:
    """Return woollen yarn of low twist, drafted an arm's length at a time."""
    return Scenario(
        "long-draw",
        "long draw: an arm's length drafted with little twist, then wound on in one sweep",
        (_LEAD, Treadling(294.5, 66.0, _MIDDLE), _TAIL),
        yarn=Yarn(3.6 * _PER_INCH, draw_m=(0.7, 1.2), winding_s=1.3, scatter=0.05),
        roller=Roller(),
        sensors=_SENSORS,
    )


def park_and_draft() -> Scenario:
    """Return a beginner's way: the wheel stands while the hands draft, and winds on when it sets in again."""
    pieces = ((6.5, 6.0), (7.2, 5.0), (6.1, 8.5), (7.8, 5.5), (6.8, 7.0), (7.4, 4.6), (6.3, 6.2), (8.0, 9.0))
    phases: list[Treadling | Stop] = [_LEAD]
    for treadled_s, drafted_s in pieces * 2:
        phases += [Treadling(treadled_s, 56.0, _MIDDLE), Stop(1.6 + drafted_s)]
    return Scenario(
        "park-and-draft",
        "park and draft: twist first, then the wheel stands while the hands draft, then it winds on",
        tuple(phases),
        motion="kinematic",  # draws are set by the turns of each run, so these must not hang on the yarn
        yarn=Yarn(6.5 * _PER_INCH, winding_s=1.0, scatter=0.06, take_up="parked"),
        roller=Roller(),
        sensors=_SENSORS,
    )


def worsted_style() -> Scenario:
    """Return yarn fed in all the time, slower and faster, as the hands draft inch by inch."""
    return Scenario(
        "worsted-style",
        "short forward drafts, a hand's breadth each, fed in while they are made: take-up without draws",
        (_LEAD, Treadling(174.5, 62.0, _MIDDLE), _TAIL),
        yarn=Yarn(5.2 * _PER_INCH, draw_m=(0.066, 0.074), winding_s=1.3, scatter=0.015),
        roller=Roller(),
        sensors=_SENSORS,
    )
