"""`whorlpulse live`: cadence, ratio and twist while they happen, on a page or in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from .exits import CANNOT_SAY, InputError
from .options import PlanOption, RollerOption, TargetsOption, WheelOption

if TYPE_CHECKING:
    pass


def live(
    log: Annotated[str | None, typer.Argument(metavar="LOG", help="A log to play again.")] = None,
    source: Annotated[
        list[str] | None, typer.Option("--from", metavar="SOURCE", help="As for record; once for each wheel.")
    ] = None,
    name: Annotated[list[str] | None, typer.Option("--name", metavar="NAME", help="A wheel's name, in turn.")] = None,
    record: Annotated[str | None, typer.Option("--record", metavar="OUT", help="Keep the log.")] = None,
    wheel: WheelOption = None,
    plan: PlanOption = None,
    reference: Annotated[
        str | None, typer.Option("--reference", metavar="RATIO|LOG", help="Ratio without slip, as for slip.")
    ] = None,
    targets: TargetsOption = None,
    roller: RollerOption = None,
    pace: Annotated[
        float | None, typer.Option("--pace", metavar="N", min=10.0, max=300.0, help="Wanted wheel turns a minute.")
    ] = None,
    speed: Annotated[float, typer.Option("--speed", metavar="N", help="Play a log so many times as fast.")] = 1.0,
    port: Annotated[int, typer.Option("--port", metavar="N", min=0, max=65535, help="Page's port; 0: any.")] = 8470,
    share: Annotated[bool, typer.Option("--share", help="Let the room look on, by a link and its code.")] = False,
    terminal: Annotated[bool, typer.Option("--terminal", help="Show it here; no page.")] = False,
    for_text: Annotated[str | None, typer.Option("--for", metavar="TIME", help="Stop after, as '20 min'.")] = None,
) -> None:
    """Cadence, ratio and twist while they happen, on a page or here."""
    from .inputs import Given, plan_at
    from .live_run import Wanted, run_live
    from .slip import references

    if (log is None) == (not source):
        raise InputError("live needs a log to play, or --from SOURCE (whorlpulse find lists what is there)")
    if speed != 1.0 and log is None:
        raise InputError("--speed is for playing a log; a simulated board takes it as sim:SCENARIO@SPEED")
    given = Given(wheel, targets, roller)
    wanted = Wanted(
        log=log,
        sources=tuple(source or ()),
        names=tuple(name or ()),
        record=record,
        given=given,
        plan=plan_at(plan).yarn if plan is not None else None,
        references=tuple(references(reference, given)) if reference is not None else (),
        pace_per_min=pace,
        speed=speed,
        port=port,
        share=share,
        terminal=terminal,
        for_text=for_text,
    )
    if not run_live(wanted):
        raise typer.Exit(CANNOT_SAY)
