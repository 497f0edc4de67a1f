"""`whorlpulse calibrate`: a roller's length per turn from measured lengths pulled over it."""

from __future__ import annotations

from typing import Annotated

import typer

from .options import JsonOption, LogFile, TargetsOption


def calibrate(
    log: LogFile,
    length: Annotated[
        list[str] | None,
        typer.Option("--length", metavar="LENGTH", help="Yarn pulled over, as '10.00 m'; once, or once a pull."),
    ] = None,
    pulls: Annotated[int | None, typer.Option("--pulls", metavar="N", help="How many pulls there are.")] = None,
    targets: TargetsOption = None,
    json: JsonOption = False,
) -> None:
    """How much yarn one turn of the measuring roller takes in.

    Record while you pull a measured length over the roller; stop, lay it out again, and pull once more, three times
    or better five.

    Example: whorlpulse calibrate log.pulses --length '10.00 m'
    """
    from whorlpulse.actions.calibrate import calibrate_roller
    from whorlpulse.findings.catalogue import sentence
    from whorlpulse.rig import Length
    from whorlpulse.views.calibrate import json_object, text

    from .exits import InputError
    from .inputs import Given, length_option, opened, rig_of
    from .show import show

    if pulls is not None and pulls < 1:
        raise InputError(sentence("pulls-option").format(given=pulls))
    given: list[Length] = [found for word in length or [] if (found := length_option("--length", word)) is not None]
    recording = opened(log)
    rig, notes = rig_of(recording, Given(targets=targets), needs_length=not given)
    report = calibrate_roller(recording, rig, given, pulls, notes)
    show(report, text, json_object, json=json, cannot_say=report.cannot_say)
