"""`whorlpulse ratio`: flyer turns per wheel turn, of the whole log, of each run, of each whorl."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .options import JsonOption, LogFile, TargetsOption, WheelOption

if TYPE_CHECKING:
    from whorlpulse.actions.recording import Recording
    from whorlpulse.rig import Rig
    from whorlpulse.views.terminal_pictures import Pen


def ratio(log: LogFile, wheel: WheelOption = None, targets: TargetsOption = None, json: JsonOption = False) -> None:
    """The true ratio of each whorl: flyer turns per wheel turn.

    Example: whorlpulse ratio log.pulses --wheel wheel.toml
    """
    from functools import partial

    from whorlpulse.actions.measure_ratio import measure_ratio
    from whorlpulse.views.ratio import json_object, text

    from .inputs import Given, opened, rig_of
    from .pictures import picture
    from .show import show

    recording = opened(log)
    rig, notes = rig_of(recording, Given(wheel, targets), needs_length=False)
    report = measure_ratio(recording, rig, notes)
    drawn = picture(lambda pen: _along(recording, rig, pen), json=json, answered=report.cannot_say is None)
    show(report, partial(text, picture=drawn), json_object, json=json, cannot_say=report.cannot_say)


def _along(recording: Recording, rig: Rig, pen: Pen) -> str | None:
    """The ratio turn by turn as a picture; what draws it is loaded only then, because most runs need it not."""
    from whorlpulse.actions.turn_by_turn import ratio_along
    from whorlpulse.views.course_pictures import ratio_picture

    return ratio_picture(ratio_along(recording, rig), pen)
