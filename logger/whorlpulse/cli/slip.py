"""`whorlpulse slip`: how much the drive band loses, when and why, on what evidence, and what to try."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated, Final

import typer

from .options import JsonOption, LogFile, TargetsOption, WheelOption

if TYPE_CHECKING:
    from whorlpulse.estimators.slip_reference import Reference

    from .inputs import Given

ReferenceOption = Annotated[
    str | None,
    typer.Option(
        "--reference", metavar="RATIO|LOG", help="Ratio without slip, as 6.21 or 6.21+-0.01, or a slow, unloaded log."
    ),
]
_NUMBER: Final = r"[0-9]+(?:\.[0-9]+)?"
_RATIO: Final = re.compile(rf"\s*({_NUMBER})\s*(?:(?:\+-|\+/-|±)\s*({_NUMBER})\s*)?(?::\s*1\s*)?")


def slip(
    log: LogFile,
    reference: ReferenceOption = None,
    wheel: WheelOption = None,
    targets: TargetsOption = None,
    json: JsonOption = False,
) -> None:
    """How much the drive band loses, when and why.

    Without slip: --reference, else the wheel file's ratio or diameters, else the log's own best.

    Example: whorlpulse slip log.pulses --reference slow.pulses
    """
    from functools import partial

    from whorlpulse.actions.measure_slip import measure_slip
    from whorlpulse.actions.turn_by_turn import loss_along
    from whorlpulse.views.course_pictures import slip_picture
    from whorlpulse.views.slip import json_object, text

    from .inputs import Given, opened, rig_of
    from .pictures import picture
    from .show import show

    given = Given(wheel, targets)
    known = references(reference, given) if reference is not None else []
    recording = opened(log)
    rig, notes = rig_of(recording, given, needs_length=False)
    report = measure_slip(recording, rig, known, notes)
    drawn = picture(
        lambda pen: slip_picture(report, loss_along(recording, rig, report.found) if report.found else [], pen),
        json=json,
        answered=report.cannot_say is None,
    )
    show(report, partial(text, picture=drawn), json_object, json=json, cannot_say=report.cannot_say)


def references(text: str, given: Given) -> list[Reference]:
    """Return what --reference gives: a ratio, or the ratios of another log. InputError if it is neither.

    A figure after ± is a standard uncertainty; without one the ratio is taken as rounded to its last digit.
    """
    from whorlpulse import units
    from whorlpulse.estimators.measured import Measured
    from whorlpulse.estimators.slip_reference import Reference
    from whorlpulse.findings.catalogue.slip import ERRORS

    from .exits import InputError
    from .toml_tables import printable

    written = _RATIO.fullmatch(text)
    if written is None:
        return _of_log(text, given)
    ratio = float(written[1])
    u = float(written[2]) if written[2] else units.rectangle_u(units.last_digit(written[1]))
    if not 0.01 <= ratio <= 1000.0 or u >= ratio:
        raise InputError(ERRORS["reference-option"].format(given=printable(text)))
    return [Reference(Measured(ratio, u), "given")]


def _of_log(path: str, given: Given) -> list[Reference]:
    from whorlpulse.actions.measure_slip import reference_ratios
    from whorlpulse.findings.catalogue.slip import ERRORS
    from whorlpulse.sources.files import shown
    from whorlpulse.views.slip_words import note_words

    from .exits import InputError
    from .inputs import opened, rig_of

    recording = opened(path)
    rig, _ = rig_of(recording, given, needs_length=False)
    found, why_not = reference_ratios(recording, rig)
    if why_not is not None:
        raise InputError(ERRORS["reference-log"].format(file=shown(path), why=note_words(why_not)))
    return found
