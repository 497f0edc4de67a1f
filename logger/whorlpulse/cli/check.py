"""`whorlpulse check`: what is wrong with a log or a sensor, on what evidence, and what to try."""

from __future__ import annotations

from .options import JsonOption, LogFile, TargetsOption, WheelOption


def check(log: LogFile, wheel: WheelOption = None, targets: TargetsOption = None, json: JsonOption = False) -> None:
    """What is wrong with a log or a sensor.

    Example: whorlpulse check log.pulses
    """
    from dataclasses import replace

    from whorlpulse.actions.health import check_health
    from whorlpulse.views.check import json_object, text

    from .inputs import Given, opened, rig_of
    from .show import show

    recording = opened(log)
    # a header line that can't be used stops other commands; here it is one of the things to find
    header = replace(recording.log.header, problems=())
    lenient = replace(recording, log=replace(recording.log, header=header))
    rig, notes = rig_of(lenient, Given(wheel, targets), needs_length=False)
    report = check_health(recording, rig, notes)
    show(report, text, json_object, json=json, cannot_say=report.cannot_say)
