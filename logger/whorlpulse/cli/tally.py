"""`whorlpulse tally`: the ratio without a sensor, by taps on two keys or by counted turns."""

from __future__ import annotations

import sys
import textwrap
from math import isfinite
from typing import TYPE_CHECKING, Annotated

import typer

from .options import JsonOption

if TYPE_CHECKING:
    from whorlpulse.actions.tally import Taps

WheelTurns = Annotated[
    list[float] | None, typer.Option("--wheel-turns", metavar="TURNS", help="Wheel turns counted; may be given again.")
]
FlyerTurns = Annotated[
    list[float] | None,
    typer.Option("--flyer-turns", metavar="TURNS", help="Flyer turns in the same time; one for each --wheel-turns."),
]
Half = Annotated[bool, typer.Option("--half", help="Half turns were counted, not only whole ones.")]
Exact = Annotated[bool, typer.Option("--wheel-exact", help="The wheel began and ended at the same place.")]
Out = Annotated[str | None, typer.Option("-o", "--output", metavar="FILE", help="Save the taps as a pulse log.")]
Replace = Annotated[bool, typer.Option("--replace", help="Overwrite that log.")]


def tally(
    wheel_turns: WheelTurns = None,
    flyer_turns: FlyerTurns = None,
    half: Half = False,
    wheel_exact: Exact = False,
    output: Out = None,
    replace: Replace = False,
    json: JsonOption = False,
) -> None:
    """The ratio without a sensor, from taps or counted turns.

    Tap w and f as the targets pass, or give the turns counted.

    Example: whorlpulse tally --wheel-turns 20 --flyer-turns 124
    """
    from .exits import InputError

    if wheel_turns or flyer_turns:
        if output is not None:
            raise InputError("counted turns have no times, so there is no log to save: leave -o out, or tap")
        _from_counts(wheel_turns or [], flyer_turns or [], 0.5 if half else 1.0, wheel_exact=wheel_exact, json=json)
        return
    if half or wheel_exact:
        raise InputError("--half and --wheel-exact go with counted turns: give --wheel-turns and --flyer-turns too")
    _from_taps(output, replace=replace, json=json)


def _from_counts(wheel: list[float], flyer: list[float], step: float, *, wheel_exact: bool, json: bool) -> None:
    from whorlpulse.estimators.tally import ratio_from_counts
    from whorlpulse.views.json_object import as_json
    from whorlpulse.views.tally_text import count_notes, counts_text, json_object

    from .exits import InputError
    from .show import page, say

    if len(wheel) != len(flyer):
        raise InputError(f"{len(wheel)} --wheel-turns and {len(flyer)} --flyer-turns: give them in pairs")
    for option, turns in [("--wheel-turns", t) for t in wheel] + [("--flyer-turns", t) for t in flyer]:
        if not (isfinite(turns) and 0 < turns < 1e6):
            raise InputError(f"{option} {turns:g}: write counted turns, above 0 and below a million")
        if turns % step:
            hint = (
                "say --half if half turns were counted" if not turns % 0.5 else "only whole and half turns are counted"
            )
            raise InputError(f"{option} {turns:g}: {hint}")
    result = ratio_from_counts(wheel, flyer, step, wheel_exact=wheel_exact)
    if json:
        typer.echo(as_json(json_object(result.found, count_notes(result, wheel_exact=wheel_exact))))
    else:
        say(counts_text(result, page(), step, wheel_exact=wheel_exact))


def _from_taps(output: str | None, *, replace: bool, json: bool) -> None:
    from whorlpulse.actions.tally import Taps
    from whorlpulse.views.json_object import as_json
    from whorlpulse.views.tally_text import json_object, tap_notes, taps_text, too_few

    from .exits import CANNOT_SAY, complain
    from .show import page, say

    taps = Taps()
    _listen(taps, output, replace=replace)
    result = taps.ratio()
    why = too_few(result, len(taps.wheel_s), len(taps.flyer_s)) if result.found is None else None
    if json:
        typer.echo(as_json(json_object(result.found, [*([why] if why else []), *tap_notes(result)])))
    elif result.found is not None:
        say(taps_text(result, result.found, page()))
    if why is not None:
        complain(why)
        raise typer.Exit(CANNOT_SAY)


def _listen(taps: Taps, output: str | None, *, replace: bool) -> None:
    """Fill `taps` from the terminal until the user ends it; the terminal is as before then, whatever happens."""
    from whorlpulse.actions.tally import follow_keys
    from whorlpulse.findings.catalogue.tally import HOW
    from whorlpulse.sources.keyboard import keys_can_be_heard, single_keys
    from whorlpulse.sources.logwriter import LogWriter

    from .early_ctrl_c import until_done
    from .exits import InputError
    from .show import page

    if not keys_can_be_heard():
        raise InputError(
            "tapping needs a terminal: run it in one, or give counted turns as --wheel-turns 20 --flyer-turns 124"
        )
    log = LogWriter(output, replace=replace) if output is not None else None

    async def run() -> None:
        with single_keys(sys.stdin.fileno()) as keys:
            await follow_keys(keys, taps, log, _show)

    typer.echo(textwrap.fill(HOW, page().width), err=True)
    try:
        until_done(run())
    finally:
        if log is not None:
            log.close()
        typer.echo("", err=True)
    if output is not None:
        typer.echo(f"{output}: {len(taps.wheel_s)} wheel and {len(taps.flyer_s)} flyer taps", err=True)


def _show(taps: Taps) -> None:
    from whorlpulse.views.tally_text import tapping_line

    line = tapping_line(taps.ratio(), len(taps.wheel_s), len(taps.flyer_s))
    encoding = sys.stderr.encoding or "ascii"
    sys.stderr.write("\r\x1b[K" + line.encode(encoding, "replace").decode(encoding))
    sys.stderr.flush()
