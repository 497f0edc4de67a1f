"""`whorlpulse ply`: what plying has made of the singles, or what ply twist they want."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from .options import JsonOption, PlanOption, RollerOption, WheelOption

if TYPE_CHECKING:
    from whorlpulse.actions.plying import Asked
    from whorlpulse.actions.recording import Side
    from whorlpulse.findings.yarn_reports import Spun

Logs = Annotated[list[str] | None, typer.Argument(metavar="LOG...", help="Logs of the singles, the ply's log last.")]
Singles = Annotated[
    list[str] | None, typer.Option("--singles", metavar="TWIST", help="Instead of a log: '8 tpi'; once for each.")
]
Ply = Annotated[str | None, typer.Option("--ply", metavar="TWIST", help="Instead of the ply's log: '5.3 tpi'.")]
Plies = Annotated[int | None, typer.Option("--plies", metavar="N", min=2, max=1000, help="How many singles.")]
Direction = Annotated[str | None, typer.Option("--direction", metavar="S|Z", help="Of the singles.")]
SameWay = Annotated[bool, typer.Option("--same-way", help="The ply goes the singles' way.")]
Contraction = Annotated[
    str | None, typer.Option("--contraction", metavar="PERCENT", help="Length that plying takes, as '3 %'.")
]
Total = Annotated[str | None, typer.Option("--total", metavar="LENGTH", help="Length of the plied yarn, as '23.4 m'.")]
SinglesTotal = Annotated[
    str | None, typer.Option("--singles-total", metavar="LENGTH", help="Length of the singles in their log.")
]


def ply(
    logs: Logs = None,
    singles: Singles = None,
    ply: Ply = None,
    plies: Plies = None,
    plan: PlanOption = None,
    wheel: WheelOption = None,
    direction: Direction = None,
    same_way: SameWay = False,
    contraction: Contraction = None,
    roller: RollerOption = None,
    total: Total = None,
    singles_total: SinglesTotal = None,
    json: JsonOption = False,
) -> None:
    """Ply twist against the singles': left, balance, plan.

    Example: whorlpulse ply singles.pulses ply.pulses --plan plan.toml
    """
    from whorlpulse.actions.plying import ply_report
    from whorlpulse.rig import Rig
    from whorlpulse.views.ply import json_object, text

    from .inputs import Given, plan_at, plan_notes, wheel_at
    from .show import show

    wanted = plan_at(plan) if plan is not None else None
    before, last = _split(list(logs or ()), bool(singles), ply)
    strands: list[Side | Spun] = [_typed("--singles", twist) for twist in singles or ()]
    strands += [_side(path, Given(wheel, None, roller, singles_total)) for path in before]
    plied: Side | Spun | None = None
    if ply is not None:
        plied = _typed("--ply", ply)
    elif last is not None:
        plied = _side(last, Given(wheel, None, roller, total))
    yarn = None if wanted is None else wanted.yarn
    planned = 2 if yarn is None or yarn.plies == 1 else yarn.plies
    several = len(strands) if len(strands) > 1 else planned
    way = direction or (yarn.direction if yarn is not None else "Z")
    asked = _asked(several if plies is None else plies, way, same_way, contraction)
    rig = wheel_at(wheel).onto(Rig()) if wheel is not None else None
    notes = [] if wanted is None else plan_notes(wanted)
    report = ply_report(strands, plied, asked, yarn, rig, notes)
    show(report, text, json_object, json=json, cannot_say=report.cannot_say)


def _split(logs: list[str], figures: bool, ply: str | None) -> tuple[list[str], str | None]:
    """Return the singles' logs and the ply's: the last is the ply's, unless it would leave no singles."""
    from whorlpulse.findings.catalogue import sentence

    from .exits import InputError

    if not logs and not figures:
        raise InputError(sentence("ply-nothing" if ply is None else "ply-no-singles"))
    if ply is not None:
        if figures and logs:
            raise InputError(sentence("ply-twice"))
        return logs, None
    if figures:
        return logs[:-1], logs[-1] if logs else None
    return (logs, None) if len(logs) == 1 else (logs[:-1], logs[-1])


def _side(path: str, given: object) -> Side:
    from whorlpulse.actions.recording import Side

    from .inputs import Given, opened, rig_of

    assert isinstance(given, Given)
    recording = opened(path)
    return Side(recording, *rig_of(recording, given, needs_length=True))


def _typed(option: str, text: str) -> Spun:
    """Return a twist as typed, with the uncertainty of its last digit or its ±."""
    from whorlpulse import units
    from whorlpulse.estimators.measured import Measured
    from whorlpulse.findings.catalogue import sentence
    from whorlpulse.findings.yarn_reports import Spun

    from .plan_options import option_value

    value = option_value(option, units.measured_twist, text)
    assert value is not None
    return Spun(sentence("ply-given"), Measured(*value))


def _asked(plies: int, direction: str, same_way: bool, contraction: str | None) -> Asked:
    from whorlpulse import units
    from whorlpulse.actions.plying import Asked
    from whorlpulse.findings.catalogue import sentence

    from .exits import InputError
    from .plan_options import option_value
    from .toml_tables import printable

    way = direction.strip().upper()
    if way not in ("S", "Z"):
        raise InputError(sentence("ply-direction-option").format(given=printable(direction)))
    taken = option_value("--contraction", units.percent, contraction)
    if taken is not None and taken >= 0.5:
        raise InputError(sentence("ply-contraction-option").format(given=printable(contraction or "")))
    return Asked(plies, "S" if way == "S" else "Z", same_way, taken)
