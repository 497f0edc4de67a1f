"""The cadence report as text."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from whorlpulse.estimators.measured import Measured
from whorlpulse.views.cadence_json import json_object
from whorlpulse.views.cadence_profile import profile, swing
from whorlpulse.views.cadence_words import answer, note_words
from whorlpulse.views.figures import alone, cut, decimals_for, measured, plain
from whorlpulse.views.layout import Page, headline, joined, paragraph, table

if TYPE_CHECKING:
    from whorlpulse.estimators.cadence import Steadiness
    from whorlpulse.estimators.laps import Stall
    from whorlpulse.findings.cadence_report import CadenceReport
    from whorlpulse.findings.report import Note

__all__ = ["json_object", "text"]

_PER_MIN = 60.0
_MOST_STALLS = 8


def text(report: CadenceReport, page: Page, picture: str | None = None) -> str:
    """Return mean and steadiness first, then scatter and trend, runs, the turn, stalls, limit and notes.

    picture: what a terminal shows beside, none elsewhere.
    """
    return joined(
        _answer(report, page),
        paragraph(page, _turns(report)),
        _scatter(report, page),
        picture,
        _runs(report),
        profile(report.profile, page) if report.profile is not None else None,
        paragraph(page, swing(report.profile)) if report.profile is not None else None,
        _stalls(report, page),
        paragraph(page, note_words(report.limit)) if report.limit is not None else None,
        "\n".join(_bullet(page, note) for note in report.notes),
    )


def _answer(report: CadenceReport, page: Page) -> str:
    assert report.found is not None
    assert report.mean_hz is not None
    steadiness = report.found.steadiness
    beside = answer("steady", percent=_digit(steadiness.overall)) if steadiness is not None else ""
    return headline(page, answer("headline", cadence=measured(report.mean_hz, _PER_MIN)), beside)


def _digit(part: Measured) -> str:
    """Return a share of 1 in per cent, cut where its uncertainty begins."""
    return alone(part, 100.0)


def _turns(report: CadenceReport) -> str:
    assert report.found is not None
    found = report.found
    said = [answer("turns", turns=round(found.wheel_turns), seconds=found.treadled_s, runs=len(found.runs))]
    if report.treadles is not None:
        said.append(answer("strokes" if report.treadles == 1 else "strokes-double"))
    return " ".join(said)


def _scatter(report: CadenceReport, page: Page) -> str | None:
    assert report.found is not None
    said = []
    if report.found.steadiness is not None:
        said.append(_parts(report.found.steadiness))
    if report.trend_hz_per_s is not None:
        said.append(_trend(report.trend_hz_per_s))
    return paragraph(page, " ".join(said)) if said else None


def _parts(found: Steadiness) -> str:
    decimals = decimals_for(100.0 * found.overall.half_width) if found.overall.half_width > 0 else 2
    drift = cut(100.0 * found.drift, max(decimals, 0))
    return answer(
        "scatter", overall=measured(found.overall, 100.0), drift=drift, quick=measured(found.turn_to_turn, 100.0)
    )


def _trend(trend: Measured) -> str:
    per_min = trend.times(_PER_MIN**2)
    if abs(per_min.value) <= per_min.half_width:
        return answer("trend-none", trend=measured(per_min))
    if per_min.value > 0:
        return answer("trend-up", trend=measured(per_min))
    return answer("trend-down", trend=measured(per_min.times(-1.0)))


def _runs(report: CadenceReport) -> str | None:
    """A line for each run, where there are several."""
    assert report.found is not None
    runs = report.found.runs
    if len(runs) < 2:
        return None
    rows = [
        (str(i + 1), f"{cut(r.start_s, 1)} – {cut(r.end_s, 1)}", plain(r.wheel_turns), plain(_PER_MIN * hz))
        for i, (r, hz) in enumerate(zip(runs, report.run_hz, strict=True))
    ]
    return table(("run", "from – to, s", "turns", "per min"), rows, gap="  ")


def _stalls(report: CadenceReport, page: Page) -> str | None:
    if not report.stalls:
        return None
    lines = [f"  {answer('stalls')}", *(f"    {_stall(s)}" for s in report.stalls[:_MOST_STALLS])]
    if len(report.stalls) > _MOST_STALLS:
        lines.append(f"    {answer('stalls-more', more=len(report.stalls) - _MOST_STALLS)}")
    return "\n".join(
        part for line in lines for part in textwrap.wrap(line, page.width - 2, subsequent_indent="      ") or [line]
    )


def _stall(s: Stall) -> str:
    key = "stall-back" if s.ran_back else "stall"
    return answer(key, start=cut(s.start_s, 1), took=s.end_s - s.start_s, usual=s.usual_s)


def _bullet(page: Page, note: Note) -> str:
    return textwrap.fill(note_words(note), page.width - 2, initial_indent="  · ", subsequent_indent="    ")
