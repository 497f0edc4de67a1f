"""`whorlpulse survey`: the bench card of a wheel, to read, to print, and for its wheel file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Final

import typer

from .options import JsonOption, TargetsOption, WheelOption

if TYPE_CHECKING:
    from whorlpulse.findings.survey_report import Saving, SurveyReport, WheelFacts
    from whorlpulse.views.survey_words import Signed

    from .inputs import Given

MaybeLog = Annotated[
    str | None, typer.Argument(metavar="LOG", help="Log of the wheel: whorl after whorl, stops between.")
]
CardOption = Annotated[
    str | None, typer.Option("-o", "--output", metavar="CARD", help="Write the card as a page to print.")
]
DraftOption = Annotated[
    str | None, typer.Option("--draft", metavar="LENGTH", help="Your draft per treadle, as '3 cm'.")
]
ReferenceOption = Annotated[
    str | None, typer.Option("--reference", metavar="RATIO|LOG", help="Without slip: a ratio, or a slow, unloaded log.")
]
SaveOption = Annotated[
    str | None, typer.Option("--save", metavar="FILE", help="Write the ratios into this wheel file.")
]
RepairerOption = Annotated[str | None, typer.Option("--repairer", metavar="NAME", help="Who measured.")]
HowOption = Annotated[bool, typer.Option("--how", help="Say how to record such a log, and end.")]
WithinOption = Annotated[str, typer.Option("--within", metavar="PERCENT", help="Wanted ± of a ratio.")]
ReplaceOption = Annotated[bool, typer.Option("--replace", help="Overwrite CARD.")]

#: Why a log has no card, where knowing how to record one helps.
_HELPED_BY_GUIDE: Final = frozenset({"empty", "no-pulse-lines", "few-turns", "few-turns-no-pace", "never-together"})


def survey(
    log: MaybeLog = None,
    output: CardOption = None,
    wheel: WheelOption = None,
    draft: DraftOption = None,
    reference: ReferenceOption = None,
    save: SaveOption = None,
    repairer: RepairerOption = None,
    within: WithinOption = "0.1 %",
    targets: TargetsOption = None,
    how: HowOption = False,
    replace: ReplaceOption = False,
    json: JsonOption = False,
) -> None:
    """The bench card of a wheel: each whorl's true ratio.

    Example: whorlpulse survey log.pulses -o card.html --save wheel.toml
    """
    from pathlib import Path

    from whorlpulse.views.survey_words import Signed

    from .exits import InputError
    from .inputs import Given

    # A wheel file that will be written is also the one that describes the wheel, once it is there.
    described = wheel or (save if save is not None and Path(save).is_file() else None)
    given = Given(described, targets)
    if how:
        _say_how(given, _share(within))
        return
    if log is None:
        raise InputError(_sentence("no-log"))
    if output is not None and Path(output).exists() and not replace:
        raise InputError(_sentence("file-exists", file=output))
    report = _surveyed(log, given, draft, reference, _share(within))
    signed = Signed(_today(), _one_line(repairer))
    saving = _saved(report, save, signed) if save is not None and report.cannot_say is None else None
    _show(report, signed, saving, save=save, output=output, json=json)


def _surveyed(log: str, given: Given, draft: str | None, reference: str | None, share: float) -> SurveyReport:
    from whorlpulse.actions.survey import survey as surveyed

    from .inputs import length_option, opened, rig_of
    from .slip import references

    length = length_option("--draft", draft)
    known = references(reference, given) if reference is not None else []
    recording = opened(log)
    rig, notes = rig_of(recording, given, needs_length=False)
    return surveyed(recording, rig, _facts(given), known, None if length is None else length.m, share, notes)


def _facts(given: Given) -> WheelFacts:
    from whorlpulse.findings.survey_report import WheelFacts

    from .inputs import wheel_at

    if given.wheel is None:
        return WheelFacts()
    file = wheel_at(given.wheel)
    return WheelFacts(file.name, file.tension, file.wheel_diameter, file.band_thickness, file.band_length)


def _saved(report: SurveyReport, path: str, signed: Signed) -> Saving:
    """Write what may be written into the wheel file at `path`, made if it is not there."""
    from pathlib import Path

    from whorlpulse.actions.survey_save import what_to_save
    from whorlpulse.rig import Rig
    from whorlpulse.sources.files import read_bytes, shown, write_new

    from .wheel_edit import with_ratios
    from .wheel_file import read_wheel

    place = Path(path).resolve()  # a link stays one
    there = place.exists()
    data = read_bytes(place) if there else b""
    saving = what_to_save(report, read_wheel(data, shown(path)).onto(Rig()) if there else Rig())
    if saving.saved:
        heading = f"wheel file; ratios measured {signed.date} by whorlpulse survey {report.capture}"
        write_new(place, with_ratios(data, shown(path), saving.saved, heading), replace=there)
    return saving


def _show(
    report: SurveyReport, signed: Signed, saving: Saving | None, *, save: str | None, output: str | None, json: bool
) -> None:
    from whorlpulse.sources.files import shown, write_new
    from whorlpulse.views.survey import guide, text
    from whorlpulse.views.survey import saving as saving_words
    from whorlpulse.views.survey_json import json_object
    from whorlpulse.views.survey_words import answer

    from .exits import CANNOT_SAY, complain
    from .show import page, say, show

    if report.cannot_say is not None and report.cannot_say.key in _HELPED_BY_GUIDE and not json:
        say(guide(report.guide, page()))
    elif output is not None and report.cannot_say is None:
        from whorlpulse.views.survey_card import card

        write_new(output, card(report, signed).encode(), replace=True)
    on_page = output is not None and not json and report.cannot_say is None
    if on_page:
        say(f"  {answer('written', file=shown(output or ''))}")
    else:
        show(
            report,
            lambda r, p: text(r, p, signed),
            lambda r: json_object(r, signed, saving),
            json=json,
            cannot_say=report.cannot_say,
        )
    if saving is not None and save is not None and not json:
        say("\n" + saving_words(saving, shown(save), page()))
    if saving is not None and save is not None and not saving.saved:
        complain(_sentence("nothing-saved", file=shown(save)))
        raise typer.Exit(CANNOT_SAY)


def _say_how(given: Given, share: float) -> None:
    from whorlpulse.actions.survey import measuring_guide
    from whorlpulse.rig import Rig
    from whorlpulse.views.survey import guide

    from .inputs import wheel_at
    from .show import page, say

    rig = wheel_at(given.wheel).onto(Rig()) if given.wheel is not None else Rig()
    say(guide(measuring_guide(rig, share), page()))


def _share(text: str) -> float:
    from whorlpulse import units

    from .exits import InputError
    from .toml_tables import printable

    try:
        share = units.percent(text if text.strip().endswith("%") else f"{text} %")
    except units.UnitsError:
        share = 0.0
    if not 0.0001 <= share <= 0.05:
        raise InputError(_sentence("share-option", given=printable(text)))
    return share


def _one_line(name: str | None) -> str | None:
    from .toml_tables import printable

    return printable(name.strip()) if name is not None and name.strip() else None


def _today() -> str:
    from datetime import date

    return date.today().isoformat()


def _sentence(key: str, **figures: str) -> str:
    from whorlpulse.findings.catalogue.survey import ERRORS

    return ERRORS[key].format_map(figures)
