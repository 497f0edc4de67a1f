"""`whorlpulse cadence`: how fast and how steadily the wheel is treadled, and where in the turn the push is."""

from __future__ import annotations

from typing import Annotated, Final

import typer

from .options import JsonOption, LogFile, TargetsOption, WheelOption

_TREADLES: Final = {"single": 1, "double": 2}
TreadlesOption = Annotated[
    str | None, typer.Option("--treadles", metavar="single|double", help="How many treadles the wheel has.")
]


def cadence(
    log: LogFile,
    treadles: TreadlesOption = None,
    wheel: WheelOption = None,
    targets: TargetsOption = None,
    json: JsonOption = False,
) -> None:
    """How fast and how steadily the wheel is treadled.

    With sync lines in the log the board's clock is corrected; else its error is in the ±.

    Example: whorlpulse cadence log.pulses --treadles double
    """
    from functools import partial

    from whorlpulse.actions.measure_cadence import measure_cadence
    from whorlpulse.actions.turn_by_turn import cadence_along
    from whorlpulse.views.cadence import json_object, text
    from whorlpulse.views.course_pictures import cadence_picture

    from .inputs import Given, opened, rig_of
    from .pictures import picture
    from .show import show

    feet = _treadles(treadles)
    recording = opened(log)
    rig, notes = rig_of(recording, Given(wheel, targets), needs_length=False)
    report = measure_cadence(recording, rig, feet, notes)
    drawn = picture(
        lambda pen: cadence_picture(report, cadence_along(recording, rig), pen),
        json=json,
        answered=report.cannot_say is None,
    )
    show(report, partial(text, picture=drawn), json_object, json=json, cannot_say=report.cannot_say)


def _treadles(given: str | None) -> int | None:
    """Return 1 or 2 as told; InputError for another word."""
    from whorlpulse.findings.catalogue.cadence import ERRORS

    from .exits import InputError
    from .toml_tables import printable

    if given is None:
        return None
    if given not in _TREADLES:
        raise InputError(ERRORS["treadles-option"].format(given=printable(given)))
    return _TREADLES[given]
