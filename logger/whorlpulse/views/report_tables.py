"""The tables of a report page; every figure in them is the one of the command's JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.findings.catalogue.page import HEADS
from whorlpulse.findings.catalogue.sensors import SHAFT_NAMES
from whorlpulse.views.figures import alone
from whorlpulse.views.report_figures import Figure, Objects, figure
from whorlpulse.views.report_parts import Table
from whorlpulse.views.report_words import says

if TYPE_CHECKING:
    from whorlpulse.findings.full_report import FullReport

_MOST_RUNS = 16
_MOST_BURSTS = 12
_DASH = "–"
_LINE_NAMES = {"band": "the band's round", "wheel": "the wheel's turn", "unknown": "not known"}


def whorls(report: FullReport, objects: Objects) -> Table | None:
    """Each whorl's measured ratio, the one without slip, and the draft per treadle; None when there is none."""
    found, plan = report.ratio.whorls, report.plan
    if report.ratio.cannot_say is not None:
        found = ()
    planned = len(plan.whorls) if plan is not None else 0
    if not found and not planned:
        return None
    rows: list[tuple[str | Figure, ...]] = []
    for i, w in enumerate(found):
        row: list[str | Figure] = [
            w.name or _DASH,
            figure(objects, "ratio", f"whorls.{i}.ratio"),
            figure(objects, "ratio", f"whorls.{i}.no_slip_ratio") if w.no_slip is not None else _DASH,
            ", ".join(str(r + 1) for r in w.runs[:6]) + (", …" if len(w.runs) > 6 else ""),
        ]
        rows.append((*row, *(_draft(objects, i) if plan is not None else ())))
    if plan is not None:
        for i in range(len(found), planned):
            name = plan.whorls[i].name or _DASH
            rows.append(
                (
                    name,
                    says("whorls-not-spun"),
                    figure(objects, "plan", f"whorls.{i}.ratio", "plain"),
                    _DASH,
                    *_draft(objects, i),
                )
            )
    head = (*HEADS["whorls"], *(HEADS["draft"] if plan is not None else ()))
    return Table(head, tuple(rows), (1, 2, 4, 5) if plan is not None else (1, 2))


def _draft(objects: Objects, i: int) -> tuple[Figure, Figure]:
    return (
        figure(objects, "plan", f"whorls.{i}.draft_per_treadle_m", "plain", 100.0, after=" cm"),
        figure(objects, "plan", f"whorls.{i}.metres_per_hour", "plain"),
    )


def runs(report: FullReport, objects: Objects) -> Table:
    """Each run's time, turns, cadence and ratio."""
    count = len(report.ratio.runs)
    rows = tuple(
        (
            str(i + 1),
            figure(objects, "ratio", f"runs.{i}.start_s", "tenth"),
            figure(objects, "ratio", f"runs.{i}.end_s", "tenth"),
            figure(objects, "ratio", f"runs.{i}.wheel_turns", "plain"),
            figure(objects, "ratio", f"runs.{i}.cadence_per_min", "plain"),
            figure(objects, "ratio", f"runs.{i}.ratio"),
        )
        for i in range(min(count, _MOST_RUNS))
    )
    below = says("more-runs", more=count - _MOST_RUNS) if count > _MOST_RUNS else ""
    return Table(HEADS["runs"], rows, (0, 1, 2, 3, 4, 5), below=below)


def parts(report: FullReport, objects: Objects) -> Table | None:
    """Slip and creep of each whorl."""
    found = report.slip.found
    if found is None:
        return None
    rows = tuple(
        (
            w.reference.name or alone(w.ratio),
            figure(objects, "slip", f"whorls.{i}.slip_percent"),
            figure(objects, "slip", f"whorls.{i}.creep_percent"),
            figure(objects, "slip", f"whorls.{i}.ratio_without_bursts"),
            figure(objects, "slip", f"whorls.{i}.reference"),
        )
        for i, w in enumerate(found.whorls)
    )
    return Table(HEADS["parts"], rows, (1, 2, 3, 4))


def bursts(report: FullReport, objects: Objects) -> Table | None:
    """The largest bursts in order of time."""
    found = report.slip.found
    if found is None or not found.bursts:
        return None
    largest = sorted(range(len(found.bursts)), key=lambda i: -found.bursts[i].lost)[:_MOST_BURSTS]
    rows = tuple(
        (
            figure(objects, "slip", f"events.{i}.start_s", "tenth"),
            figure(objects, "slip", f"events.{i}.wheel_turn", "tenth"),
            figure(objects, "slip", f"events.{i}.lost_turns", "hundredth"),
        )
        for i in sorted(largest)
    )
    more = len(found.bursts) - len(largest)
    return Table(HEADS["bursts"], rows, (0, 1, 2), below=says("more-bursts", more=more) if more else "")


def periodic(report: FullReport, objects: Objects) -> Table | None:
    """What comes and goes with a rhythm."""
    found = report.slip.found
    lines = [line for w in found.whorls for line in w.lines] if found is not None else []
    if not lines:
        return None
    rows = tuple(
        (
            figure(objects, "slip", f"periodic.{i}.per_wheel_turn", "plain"),
            figure(objects, "slip", f"periodic.{i}.size_percent", "hundredth"),
            _LINE_NAMES[line.source],
        )
        for i, line in enumerate(lines)
    )
    return Table(HEADS["periodic"], rows, (0, 1))


def channels(report: FullReport, objects: Objects) -> Table:
    """What came from each sensor."""
    rows = []
    for c in report.health.channels:
        counts: list[str | Figure] = [
            figure(objects, "check", f"channels.{c.letter}.{key}", "whole")
            for key in ("pulses", "missed", "extra", "targets")
        ]
        noise = figure(objects, "check", f"channels.{c.letter}.timing_noise_s", "plain", 1e6)
        rows.append((f"{c.letter} {SHAFT_NAMES[c.letter]}", *counts, noise))
    return Table(HEADS["channels"], tuple(rows), (1, 2, 3, 4, 5))
