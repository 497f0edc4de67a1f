"""The calibration of a roller as text and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from whorlpulse.views.figures import cut, decimals_for, pair, plain, says, words
from whorlpulse.views.json_object import estimate, head
from whorlpulse.views.layout import Page, bullets, headline, joined, paragraph, table

if TYPE_CHECKING:
    from whorlpulse.estimators.measured import Measured
    from whorlpulse.findings.calibration_report import CalibrationReport

_CM = 100.0
#: A pull's own figure is shown to where whole pulses make it uncertain, 95 %: ± 0.8 of a gap (triangular).
_SURE_PART = 0.8


def text(report: CalibrationReport, page: Page) -> str:
    """Return the length per turn first, then what it rests on, the line to write, what limits it, and the notes."""
    assert report.found is not None
    value, half = pair(report.found.per_turn.value * _CM, report.found.per_turn.half_width * _CM)
    return joined(
        headline(page, f"{value} ± {half} cm", says("calibrate-unit")),
        paragraph(page, _rests(report)),
        _pulls(report),
        f"{paragraph(page, says('calibrate-write'))}\n    # roller: {roller_line(report.found.per_turn)}",
        paragraph(page, words(report.limit)) if report.limit is not None else None,
        bullets(page, report.notes),
    )


def roller_line(per_turn: Measured) -> str:
    """Return the value of a log's `roller` line: the length per turn with its standard uncertainty in cm."""
    decimals = decimals_for(per_turn.u * _CM) + 1
    return f"{cut(per_turn.value * _CM, decimals)} cm +- {cut(per_turn.u * _CM, decimals)} cm"


def _rests(report: CalibrationReport) -> str:
    metres = sum(length.m for length in report.lengths)
    if len(report.pulls) == 1:
        return says("calibrate-rests-one", metres=metres, targets=report.targets)
    parted = says(f"calibrate-by-{report.parted_by}")
    return says("calibrate-rests", pulls=len(report.pulls), metres=metres, parted=parted, targets=report.targets)


def _pulls(report: CalibrationReport) -> str:
    assert report.found is not None
    rows = []
    for number, (pull, length, each) in enumerate(
        zip(report.pulls, report.lengths, report.found.each_m, strict=True), 1
    ):
        times = f"{cut(pull.start_s, 1)} – {cut(pull.end_s, 1)}"
        shown = pair(each * _CM, _SURE_PART * each * _CM / pull.pulses)[0]
        rows.append((str(number), times, plain(pull.pulses), cut(pull.pulses / report.targets, 2), _m(length.m), shown))
    return table(("pull", "from – to, s", "pulses", "turns", "m", "cm a turn"), rows)


def _m(metres: float) -> str:
    return f"{metres:.5g}"


def json_object(report: CalibrationReport) -> dict[str, Any]:
    """Return the JSON object; null where there is no answer, the reason among the notes."""
    found = report.found
    limit = () if report.limit is None else (report.limit,)
    return head(report.capture, (*report.notes, *limit)) | {
        "roller_m": estimate(found.per_turn if found is not None else None),
        "roller_u_m": None if found is None else found.per_turn.u,
        "roller_line": None if found is None else roller_line(found.per_turn),
        "stated_m": None if report.stated is None else report.stated.m,
        "targets": report.targets,
        "parted_by": report.parted_by,
        "pulls": [
            {
                "start_s": pull.start_s,
                "end_s": pull.end_s,
                "pulses": pull.pulses,
                "turns": pull.pulses / report.targets,
                "length_m": length.m,
                "roller_m": each,
            }
            for pull, length, each in zip(
                report.pulls, report.lengths, found.each_m if found is not None else (), strict=True
            )
        ],
        "length_u_percent": None if found is None else 100.0 * found.length_u,
        "pulls_u_percent": None if found is None else 100.0 * found.pull_u,
        "pulls_limited_by": None if found is None else found.pull_limit,
        "scatter_m": None if found is None else found.scatter_m,
        "pulls_to_halve": None if found is None else found.pulls_to_halve,
    }
