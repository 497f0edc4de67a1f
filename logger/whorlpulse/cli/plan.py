"""`whorlpulse plan`: what to do on each whorl to get the twist that a plan file asks for."""

from __future__ import annotations

from typing import Annotated

import typer

from .options import JsonOption, WheelOption

PlanFileArgument = Annotated[str, typer.Argument(metavar="PLAN", help="Plan file: twist, or count and twist_factor.")]
WhorlOption = Annotated[str | None, typer.Option("--whorl", metavar="NAME", help="Only this whorl of the wheel file.")]
RatioOption = Annotated[
    list[str] | None, typer.Option("--ratio", metavar="R", help="A whorl's ratio, as 6.21; once for each whorl.")
]
CadenceOption = Annotated[
    float, typer.Option("--cadence", metavar="N", min=1.0, max=400.0, help="Wheel turns a minute.")
]
MassOption = Annotated[str | None, typer.Option("--mass", metavar="MASS", help="Say hours for this mass, as '100 g'.")]
DraftOption = Annotated[
    str | None, typer.Option("--draft", metavar="LENGTH", help="Your draft per treadle, '3 cm': which twist?")
]
EasyOption = Annotated[
    str | None, typer.Option("--easy", metavar="SPAN", help="Drafts that come easily, as '2 cm to 5 cm'.")
]
DrawOption = Annotated[str | None, typer.Option("--draw", metavar="LENGTH", help="Length of a draw, as '45 cm'.")]


def plan(
    plan: PlanFileArgument,
    wheel: WheelOption = None,
    whorl: WhorlOption = None,
    ratio: RatioOption = None,
    cadence: CadenceOption = 60.0,
    mass: MassOption = None,
    draft: DraftOption = None,
    easy: EasyOption = None,
    draw: DrawOption = None,
    json: JsonOption = False,
) -> None:
    """What to do on each whorl for a planned twist.

    Example: whorlpulse plan plan.toml --wheel wheel.toml --mass '100 g'
    """
    from pathlib import Path

    from whorlpulse.actions.reckon_plan import reckon_plan
    from whorlpulse.rig import Rig
    from whorlpulse.sources.files import shown
    from whorlpulse.views.plan import json_object, text

    from .inputs import plan_at, plan_notes, wheel_at
    from .plan_options import hands_of, mass_kg, ratios, with_whorl
    from .show import show

    wanted = plan_at(plan)
    rig = wheel_at(wheel).onto(Rig()) if wheel is not None else Rig()
    report = reckon_plan(
        shown(Path(plan).name),
        wanted.yarn,
        with_whorl(rig, whorl),
        ratios(ratio or ()),
        cadence / 60.0,
        mass_kg(mass),
        plan_notes(wanted),
        hands_of(wanted.hands, draft=draft, easy=easy, draw=draw),
    )
    show(report, text, json_object, json=json)
