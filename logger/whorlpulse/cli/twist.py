"""`whorlpulse twist`: turns per inch and per metre in the yarn, along it, and against the plan."""

from __future__ import annotations

from typing import Annotated

import typer

from .options import JsonOption, LogFile, PlanOption, RollerOption, TargetsOption, TotalOption, WheelOption


def twist(
    log: LogFile,
    plan: PlanOption = None,
    wheel: WheelOption = None,
    targets: TargetsOption = None,
    roller: RollerOption = None,
    total: TotalOption = None,
    draws: Annotated[bool, typer.Option("--draws", help="List every draw: length, turns, twist.")] = False,
    json: JsonOption = False,
) -> None:
    """The twist that is in the yarn, metre by metre, against the plan.

    The length comes from --total, else from a roller's pulses, else from the log's length lines.

    Example: whorlpulse twist log.pulses --plan plan.toml
    """
    from functools import partial

    from whorlpulse.actions.measure_twist import measure_twist
    from whorlpulse.views.course_pictures import twist_picture
    from whorlpulse.views.twist import json_object, text

    from .inputs import Given, opened, plan_at, plan_notes, rig_of
    from .pictures import picture
    from .show import show

    wanted = plan_at(plan) if plan is not None else None
    recording = opened(log)
    rig, notes = rig_of(recording, Given(wheel, targets, roller, total), needs_length=True)
    if wanted is not None:
        notes += plan_notes(wanted)
    report = measure_twist(recording, rig, wanted.yarn if wanted is not None else None, notes)
    drawn = picture(lambda pen: twist_picture(report, pen), json=json, answered=report.cannot_say is None)
    show(report, partial(text, list_draws=draws, picture=drawn), json_object, json=json, cannot_say=report.cannot_say)
