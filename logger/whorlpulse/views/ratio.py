"""The ratio report as text and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from whorlpulse.views.figures import alone, cut, measured, pair, plain, says, words
from whorlpulse.views.json_object import estimate, head
from whorlpulse.views.layout import Page, bullets, headline, joined, paragraph, table

if TYPE_CHECKING:
    from whorlpulse.findings.report import RatioReport, RunLine, WhorlLine

#: Longer names are cut in the table.
_LONGEST_NAME = 12


def text(report: RatioReport, page: Page, picture: str | None = None) -> str:
    """Return the answer first, then runs, whorls, what limits it and the notes; for a report with an answer.

    picture: what a terminal shows beside, none elsewhere.
    """
    return joined(
        _answer(report, page),
        picture,
        _whorls(report),
        _runs(report),
        paragraph(page, words(report.limit)) if report.limit is not None else None,
        bullets(page, report.notes),
    )


def _answer(report: RatioReport, page: Page) -> str:
    assert report.ratio is not None
    assert report.flyer_turns is not None
    assert report.wheel_turns is not None
    turns = says(
        "ratio-turns-one" if len(report.runs) == 1 else "ratio-turns",
        flyer=round(report.flyer_turns),
        wheel=round(report.wheel_turns),
        runs=len(report.runs),
    )
    if len(report.whorls) > 1:
        ratios = "   ".join(f"{alone(w.ratio)} : 1" for w in report.whorls)
        said = f"{says('ratio-several', whorls=len(report.whorls))} {turns}"
        return joined(headline(page, ratios), paragraph(page, said))
    value, half = pair(report.ratio.value, report.ratio.half_width)
    first = headline(page, f"{value} : 1  ± {half}", says("ratio-unit"))
    return joined(first, paragraph(page, turns))


def _whorls(report: RatioReport) -> str | None:
    """A table of whorls, where it says more than that of the runs."""
    if len(report.whorls) < 2 or len(report.whorls) == len(report.runs):
        return None
    rows = [(*_named(w), measured(w.ratio), ", ".join(str(i + 1) for i in w.runs)) for w in report.whorls]
    return table(("whorl", "wheel file", "ratio", "runs"), rows, left=(0, 1, 2, 3))


def _runs(report: RatioReport) -> str:
    """A line for each run, with its whorl where the wheel file names one."""
    whorl_of = {i: w for w in report.whorls for i in w.runs}
    columns = 7 if any(w.name for w in report.whorls) else 5
    rows = [(str(i + 1), *_run(run), *_named(whorl_of.get(i)))[:columns] for i, run in enumerate(report.runs)]
    head = ("run", "from – to, s", "turns", "per min", "ratio", "whorl", "wheel file")[:columns]
    return table(head, rows, left=(4, 5, 6), gap="  ")


def _run(run: RunLine) -> tuple[str, ...]:
    return (
        f"{cut(run.start_s, 1)} – {cut(run.end_s, 1)}",
        plain(run.wheel_turns),
        plain(60.0 * run.cadence_hz),
        measured(run.ratio),
    )


def _named(whorl: WhorlLine | None) -> tuple[str, str]:
    """Return the whorl's name and what the wheel file says of its ratio."""
    if whorl is None or whorl.name is None:
        return "–", "–"
    name = whorl.name if len(whorl.name) <= _LONGEST_NAME else whorl.name[: _LONGEST_NAME - 1] + "…"
    return name, "–" if whorl.no_slip is None else measured(whorl.no_slip)


def json_object(report: RatioReport) -> dict[str, Any]:
    """Return the object of format section 4."""
    return head(report.capture, (*report.notes, *((report.limit,) if report.limit is not None else ()))) | {
        "ratio": estimate(report.ratio),
        "wheel_turns": report.wheel_turns,
        "flyer_turns": report.flyer_turns,
        "runs": [
            {
                "start_s": run.start_s,
                "end_s": run.end_s,
                "ratio": estimate(run.ratio),
                "expected_ratio": estimate(run.expected),
                "wheel_turns": run.wheel_turns,
                "flyer_turns": run.flyer_turns,
                "cadence_per_min": 60.0 * run.cadence_hz,
            }
            for run in report.runs
        ],
        "whorls": [
            {
                "ratio": estimate(whorl.ratio),
                "runs": list(whorl.runs),
                "name": whorl.name,
                "no_slip_ratio": estimate(whorl.no_slip),
            }
            for whorl in report.whorls
        ],
    }
