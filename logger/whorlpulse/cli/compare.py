"""`whorlpulse compare`: what has changed between two logs, say before and after a repair."""

from __future__ import annotations

from typing import Annotated

import typer

from .options import JsonOption, TargetsOption, WheelOption

Before = Annotated[str, typer.Argument(metavar="BEFORE", help="The first pulse log.")]
After = Annotated[str, typer.Argument(metavar="AFTER", help="The second one, of the same wheel.")]
Reference = Annotated[
    str | None,
    typer.Option(
        "--reference", metavar="RATIO|LOG", help="Ratio without slip, as 6.21 or 6.21+-0.01, or a slow, unloaded log."
    ),
]


def compare(
    before: Before,
    after: After,
    wheel: WheelOption = None,
    reference: Reference = None,
    targets: TargetsOption = None,
    json: JsonOption = False,
) -> None:
    """What changed between two logs, and how surely.

    Example: whorlpulse compare before.pulses after.pulses --wheel wheel.toml
    """
    from whorlpulse.actions.compare_logs import compare_logs
    from whorlpulse.actions.recording import Side
    from whorlpulse.views.compare import json_object, text

    from .inputs import Given, opened, rig_of
    from .show import show
    from .slip import references

    given = Given(wheel, targets)
    known = references(reference, given) if reference is not None else []
    sides = []
    for path in (before, after):
        recording = opened(path)
        sides.append(Side(recording, *rig_of(recording, given, needs_length=False)))
    report = compare_logs(sides[0], sides[1], known)
    show(report, text, json_object, json=json, cannot_say=report.cannot_say)
