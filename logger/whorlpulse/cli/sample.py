"""`whorlpulse sample`: twist found on the yarn itself, and whether the log says the same."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from .options import JsonOption, PlanOption, RollerOption, TotalOption, WheelOption

if TYPE_CHECKING:
    from whorlpulse.actions.sample import OnYarn

Log = Annotated[str | None, typer.Argument(metavar="[LOG]", help="The log of this yarn, to compare with.")]
Gauge = Annotated[str | None, typer.Option("--gauge", metavar="LENGTH", help="Length of a sample, as '25 cm'.")]
Turns = Annotated[
    str | None, typer.Option("--turns", metavar="N,N,...", help="Turns to untwist each sample, as 48,50,47.")
]
Retwisted = Annotated[bool, typer.Option("--retwisted", help="Counted by untwisting and twisting up again.")]
Untwisted = Annotated[
    str | None, typer.Option("--untwisted", metavar="LENGTHS", help="The samples then, as '25.8,26.0 cm'.")
]
Angle = Annotated[str | None, typer.Option("--angle", metavar="DEG,...", help="Surface fibres to the yarn, as 21,23.")]
Diameter = Annotated[str | None, typer.Option("--diameter", metavar="LENGTHS", help="Of the yarn, as '0.80,0.85 mm'.")]
Bobbin = Annotated[
    str | None, typer.Option("--bobbin", metavar="SPAN", help="Drawn over its end: '3 cm' or '3 to 7 cm'.")
]
Margin = Annotated[str, typer.Option("--margin", metavar="PERCENT", help="Difference of no account.")]


def sample(
    log: Log = None,
    gauge: Gauge = None,
    turns: Turns = None,
    retwisted: Retwisted = False,
    untwisted: Untwisted = None,
    angle: Angle = None,
    diameter: Diameter = None,
    bobbin: Bobbin = None,
    margin: Margin = "5 %",
    plan: PlanOption = None,
    wheel: WheelOption = None,
    roller: RollerOption = None,
    total: TotalOption = None,
    json: JsonOption = False,
) -> None:
    """Twist counted on the yarn itself; does the log agree?

    Example: whorlpulse sample log.pulses --gauge '25 cm' --turns 48,50,47
    """
    from whorlpulse import units
    from whorlpulse.actions.recording import Side
    from whorlpulse.actions.sample import sample_report
    from whorlpulse.views.sample import json_object, text

    from .inputs import Given, opened, plan_at, plan_notes, rig_of
    from .plan_options import option_value
    from .show import show

    yarn = _on_yarn(gauge, turns, untwisted, angle, diameter, bobbin, retwisted=retwisted)
    given_margin = option_value("--margin", units.percent, margin)
    wanted = plan_at(plan) if plan is not None else None
    side = None
    if log is not None:
        recording = opened(log)
        side = Side(recording, *rig_of(recording, Given(wheel, None, roller, total), needs_length=True))
    planned, notes = (None, []) if wanted is None else (wanted.yarn, plan_notes(wanted))
    report = sample_report(yarn, side, planned, given_margin or 0.05, notes)
    show(report, text, json_object, json=json, cannot_say=report.cannot_say)


def _on_yarn(
    gauge: str | None,
    turns: str | None,
    untwisted: str | None,
    angle: str | None,
    diameter: str | None,
    bobbin: str | None,
    *,
    retwisted: bool,
) -> OnYarn:
    """Return what the options say of the yarn; InputError where they don't say enough."""
    from whorlpulse.actions.sample import OnYarn
    from whorlpulse.estimators.direct_count import direct_count, of_several, shortening

    from . import lists
    from .inputs import length_option
    from .plan_options import option_value

    _refuse(gauge, turns, untwisted, angle, diameter)
    counts, open_lengths = (
        option_value("--turns", lists.turns, turns),
        option_value("--untwisted", lists.lengths, untwisted),
    )
    angles, widths = option_value("--angle", lists.angles, angle), option_value("--diameter", lists.lengths, diameter)
    length = length_option("--gauge", gauge)
    counted = short = None
    if counts is not None and length is not None:
        counted = direct_count(counts.values, length, counts.step, retwisted=retwisted)
        if open_lengths is not None:
            short = shortening(length, open_lengths.values, open_lengths.u_each)
    return OnYarn(
        counted=counted,
        gauge=length,
        retwisted=retwisted,
        angle_deg=None if angles is None else of_several(angles.values, angles.u_each),
        diameter_m=None if widths is None else of_several(widths.values, widths.u_each),
        shortening=short,
        bobbin=option_value("--bobbin", lists.span_or_one, bobbin),
    )


def _refuse(
    gauge: str | None, turns: str | None, untwisted: str | None, angle: str | None, diameter: str | None
) -> None:
    from whorlpulse.findings.catalogue import sentence

    from .exits import InputError

    if turns is not None and gauge is None:
        raise InputError(sentence("sample-gauge"))
    if turns is None and (gauge is not None or untwisted is not None):
        raise InputError(sentence("sample-turns").format(option="untwisted" if gauge is None else "gauge"))
    if turns is None and angle is None:
        raise InputError(sentence("sample-nothing"))
    if angle is not None and diameter is None:
        raise InputError(sentence("sample-diameter"))
