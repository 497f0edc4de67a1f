"""From a recording and a rig to the courses that a terminal's pictures show."""

from __future__ import annotations

from whorlpulse.actions.recording import Recording
from whorlpulse.estimators.slip import SlipEstimate
from whorlpulse.estimators.turn_by_turn import Course, cadence_courses, loss_courses, ratio_courses
from whorlpulse.estimators.wheel_steps import pieces_at_speed
from whorlpulse.pulses import WHEEL
from whorlpulse.rig import Rig


def ratio_along(recording: Recording, rig: Rig) -> list[Course]:
    """Return the ratio, wheel turn by wheel turn."""
    log = recording.conditioned(rig)
    targets = len(log.angles[WHEEL].angle)
    return ratio_courses(pieces_at_speed(log, targets), targets)


def loss_along(recording: Recording, rig: Rig, found: SlipEstimate) -> list[Course]:
    """Return the flyer turns lost so far, wheel turn by wheel turn; found: the slip of the same recording."""
    return loss_courses(ratio_along(recording, rig), found)


def cadence_along(recording: Recording, rig: Rig) -> list[Course]:
    """Return the wheel turns a second by the board's clock, wheel turn by wheel turn."""
    return cadence_courses(recording.conditioned(rig))
