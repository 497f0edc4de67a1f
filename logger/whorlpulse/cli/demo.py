"""`whorlpulse demo`: simulate, measure, and show the truth beside: a result without any hardware."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from .options import JsonOption

if TYPE_CHECKING:
    from whorlpulse.actions.recording import Recording
    from whorlpulse.estimators.plan import YarnPlan
    from whorlpulse.rig import Rig
    from whorlpulse.simulate import Capture

SeedOption = Annotated[int, typer.Option("--seed", metavar="N", min=0, help="Another seed, other captures.")]
ReportOption = Annotated[
    str | None, typer.Option("--report", metavar="FILE", help="Write the skein's report page to this .html.")
]
KeepOption = Annotated[str | None, typer.Option("--keep", metavar="FOLDER", help="Keep both captures in this folder.")]


def demo(
    seed: SeedOption = 1, keep: KeepOption = None, report_to: ReportOption = None, json: JsonOption = False
) -> None:
    """A result without hardware: simulate, measure, see the truth.

    Example: whorlpulse demo --keep demo-out
    """
    from whorlpulse.actions.demonstrate import demonstrate
    from whorlpulse.views.demo import json_object, text

    from .progress import Progress
    from .show import show

    with Progress("simulating and measuring"):
        report, captures = demonstrate(seed, _rig_of, _plan_of)
    if keep is not None:
        from .capture_folder import write_capture

        for name, capture in captures.items():
            write_capture(f"{keep}/{name}", capture, replace=False)
    if report_to is not None:
        _write_report(report_to, captures)
    show(report, text, json_object, json=json)


def _write_report(file: str, captures: dict[str, Capture]) -> None:
    """Write the page of the demo's skein, as `report` would of its folder."""
    from whorlpulse.actions.demonstrate import SKEIN
    from whorlpulse.actions.make_report import Asked, make_report
    from whorlpulse.actions.recording import read_recording
    from whorlpulse.findings.catalogue.page import ERRORS
    from whorlpulse.sources.files import write_new
    from whorlpulse.views.report_page import Look, html

    from .exits import InputError
    from .progress import Progress
    from .toml_tables import printable

    if not file.lower().endswith((".html", ".htm")):
        raise InputError(ERRORS["demo-kind"].format(file=printable(file)))
    capture = captures[SKEIN]
    recording = read_recording(lambda: [capture.log], f"{SKEIN}.pulses")
    with Progress("drawing"):
        made = make_report(Asked(recording, _rig_of(recording, capture), _plan_of(capture)))
        write_new(file, html(made, Look()).encode())


def _rig_of(recording: Recording, capture: Capture) -> Rig:
    from .inputs import Given, rig_of
    from .wheel_file import read_wheel

    rig, _ = rig_of(recording, Given(), needs_length=True)
    wheel = capture.wheel_toml
    return rig if wheel is None else read_wheel(wheel.encode(), "wheel.toml").onto(rig)


def _plan_of(capture: Capture) -> YarnPlan:
    from .plan_file import read_plan

    return read_plan((capture.plan_toml or "").encode(), "plan.toml").yarn
