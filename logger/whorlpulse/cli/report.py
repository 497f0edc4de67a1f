"""`whorlpulse report`: everything that a log says on one page to look at, print or send; or one chart of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from .cadence import TreadlesOption
from .options import PlanOption, RollerOption, WheelOption

if TYPE_CHECKING:
    from whorlpulse.actions.make_report import Asked
    from whorlpulse.estimators.slip_reference import Reference
    from whorlpulse.findings.full_report import FullReport
    from whorlpulse.findings.report import Note
    from whorlpulse.views.report_page import Look

    from .inputs import Given

Logs = Annotated[list[str], typer.Argument(metavar="LOG...", help="One log, or two to compare, BEFORE AFTER.")]
Out = Annotated[
    str | None, typer.Option("-o", "--output", metavar="FILE", help="X.html, X.pdf; with --chart X.svg, X.png.")
]
For = Annotated[
    str,
    typer.Option("--reader", metavar="WHO", show_default=False, help="For a spinner (usual), repairer or teacher."),
]
ChartOption = Annotated[
    str | None, typer.Option("--chart", metavar="NAME", help="One chart only: ratio, loss, twist ...")
]
Reference_ = Annotated[
    str | None, typer.Option("--reference", metavar="RATIO|LOG", help="Ratio without slip, or a log.")
]
TotalOption = Annotated[str | None, typer.Option("--total", metavar="LENGTH", help="All the yarn, as twist has it.")]
TargetsOption = Annotated[str | None, typer.Option("--targets", metavar="TEXT", help="Targets per turn, as 'w=4 f=1'.")]
PaperOption = Annotated[str, typer.Option("--paper", metavar="SIZE", help="A4 or Letter, for a .pdf.")]
NoScript = Annotated[bool, typer.Option("--no-script", help="A page without scripts, at a tenth of the size.")]
Replace = Annotated[bool, typer.Option("--replace", help="Overwrite an older file of that name.")]

_ASKERS: Final = ("spinner", "repairer", "teacher")
_PAPERS: Final = {"a4": "A4", "letter": "Letter"}
_TREADLES: Final = {"single": 1, "double": 2}
_PICTURES: Final = (".svg", ".png")


def report(
    logs: Logs,
    output: Out = None,
    whom: For = "spinner",
    chart: ChartOption = None,
    plan: PlanOption = None,
    wheel: WheelOption = None,
    reference: Reference_ = None,
    treadles: TreadlesOption = None,
    roller: RollerOption = None,
    total: TotalOption = None,
    targets: TargetsOption = None,
    paper: PaperOption = "A4",
    no_script: NoScript = False,
    replace: Replace = False,
) -> None:
    """One page with everything a log says, to print or send.

    Example: whorlpulse report log.pulses -o page.html
    """
    from whorlpulse.views.report_page import Look

    from .inputs import Given

    kind = _checked(logs, output, whom, chart, paper)
    assert output is not None
    given = Given(wheel, targets, roller, total)
    _refuse_existing(output, replace=replace)
    feet = _feet(treadles)
    asked = [_asked(path, given, plan, reference, feet) for path in logs]
    look = Look(
        asker=whom,  # type: ignore[arg-type]  # checked against the same words
        script=kind == ".html" and not no_script,
        paper=_PAPERS[paper.lower()] if kind == ".pdf" else None,  # type: ignore[arg-type]  # the same
    )
    data, cannot_say = _chart(asked[0], chart, kind) if chart is not None else _page(asked, look, kind)
    _write(output, data, replace=replace)
    if cannot_say is not None:
        from whorlpulse.views.figures import words

        from .exits import CANNOT_SAY, complain

        complain(f"{asked[0].recording.capture}: {words(cannot_say)}")
        raise typer.Exit(CANNOT_SAY)


def _checked(logs: list[str], output: str | None, whom: str, chart: str | None, paper: str) -> str:
    """Return the kind of output, the end of its name; InputError for words that aren't understood."""
    from whorlpulse.findings.catalogue.page import ERRORS
    from whorlpulse.views.charts.all import NAMES

    from .exits import InputError
    from .toml_tables import printable

    if output is None:
        raise InputError(ERRORS["output-needed"])
    kind = Path(output).suffix.lower()
    if whom not in _ASKERS:
        raise InputError(ERRORS["for"].format(given=printable(whom)))
    if paper.lower() not in _PAPERS:
        raise InputError(ERRORS["paper"].format(given=printable(paper)))
    if len(logs) > 2:
        raise InputError(ERRORS["too-many"].format(count=len(logs)))
    if chart is None and kind not in (".html", ".htm", ".pdf"):
        raise InputError(ERRORS["output-kind"].format(file=printable(output)))
    if chart is not None and chart not in NAMES:
        raise InputError(ERRORS["which-chart"].format(given=printable(chart), names=", ".join(NAMES)))
    if chart is not None and kind not in _PICTURES:
        raise InputError(ERRORS["chart-kind"].format(file=printable(output)))
    if chart is not None and len(logs) > 1:
        raise InputError(ERRORS["chart-one-log"])
    return ".html" if kind == ".htm" else kind


def _refuse_existing(output: str | None, *, replace: bool) -> None:
    """Refuse to write over a file before anything is measured for it."""
    from whorlpulse.findings.catalogue.page import ERRORS
    from whorlpulse.sources.files import shown

    from .exits import InputError

    if output is not None and not replace and Path(output).is_file():
        raise InputError(ERRORS["exists"].format(file=shown(output)))


def _feet(given: str | None) -> int | None:
    """Return 1 or 2 treadles as told; InputError for another word."""
    from whorlpulse.findings.catalogue.cadence import ERRORS

    from .exits import InputError
    from .toml_tables import printable

    if given is not None and given not in _TREADLES:
        raise InputError(ERRORS["treadles-option"].format(given=printable(given)))
    return _TREADLES[given] if given is not None else None


def _asked(path: str, given: Given, plan: str | None, reference: str | None, feet: int | None) -> Asked:
    """Return what a report is asked of; wheel and plan files that stand beside the log are taken with it."""
    from dataclasses import replace

    from whorlpulse.actions.make_report import Asked
    from whorlpulse.findings.report import note
    from whorlpulse.sources.files import shown

    from .inputs import opened, plan_at, plan_notes, rig_of
    from .slip import references

    wheel_path, wheel_key = _beside(path, "wheel", given.wheel)
    plan_path, plan_key = _beside(path, "plan", plan)
    given = replace(given, wheel=wheel_path)
    known: list[Reference] = references(reference, given) if reference is not None else []
    wanted = plan_at(plan_path) if plan_path is not None else None
    recording = opened(path)
    rig, notes = rig_of(recording, given, needs_length=False)
    files = [note(key, name=shown(Path(p).name)) for p, key in ((wheel_path, wheel_key), (plan_path, plan_key)) if p]
    return Asked(
        recording,
        rig,
        wanted.yarn if wanted is not None else None,
        known,
        feet,
        notes,
        plan_notes(wanted) if wanted is not None else (),
        files,
        shown(Path(path).resolve().parent.name) if path != "-" else "",
    )


def _beside(log: str, what: str, given: str | None) -> tuple[str | None, str]:
    """Return the file given, or the one of the usual name beside the log, and the key of what is said of it."""
    if given is not None:
        return given, f"{what}-given"
    near = Path(log).with_name(f"{what}.toml") if log != "-" else None
    return (str(near), f"{what}-beside") if near is not None and near.is_file() else (None, "")


def _chart(asked: Asked, name: str, kind: str) -> tuple[bytes, Note | None]:
    from whorlpulse.findings.catalogue.page import ERRORS
    from whorlpulse.views.charts.all import chart
    from whorlpulse.views.charts.chart import Unsaid
    from whorlpulse.views.charts.draw import png, svg_on_paper

    from .exits import InputError

    found = chart(name, _made(asked))
    if isinstance(found, Unsaid):
        raise InputError(
            ERRORS["chart-unsaid"].format(capture=asked.recording.capture, name=name, why=found.why.rstrip("."))
        )
    return (svg_on_paper(found.spec).encode() if kind == ".svg" else png(found.spec)), None


def _made(asked: Asked) -> FullReport:
    from whorlpulse.actions.make_report import make_report

    from .progress import Progress

    with Progress("measuring") as progress:

        def done(share: float) -> None:
            progress.done = share

        return make_report(asked, done)


def _page(asked: list[Asked], look: Look, kind: str) -> tuple[bytes, Note | None]:
    """Return the page, and why it has no answer where it has none."""
    from whorlpulse.actions.make_report import make_pair
    from whorlpulse.views.charts.draw import Ready
    from whorlpulse.views.report_page import html, pair_html

    from .progress import Progress

    ready = Ready(scripts_too=look.script)
    if len(asked) == 1:
        one = _made(asked[0])
        with Progress("drawing"):
            text, why = html(one, look, ready), None if one.answers else one.ratio.cannot_say
    else:
        with Progress("measuring") as progress:

            def done(share: float) -> None:
                progress.done = share

            both = make_pair(asked[0], asked[1], done)
        with Progress("drawing"):
            text, why = pair_html(both, look, ready), both.change.cannot_say
    if kind == ".pdf":
        from whorlpulse.actions.print_page import print_page

        with Progress("printing"):
            return print_page(text), why
    return text.encode(), why


def _write(output: str, data: bytes, *, replace: bool) -> None:
    from whorlpulse.findings.catalogue.page import ERRORS
    from whorlpulse.sources.files import shown, write_new

    from .show import say

    write_new(output, data, replace=replace)
    say(ERRORS["written"].format(file=shown(output), kilobytes=round(len(data) / 1000)))
