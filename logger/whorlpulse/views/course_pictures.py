"""The pictures of `ratio`, `slip`, `cadence` and `twist` for a terminal; what they show stands in figures beside."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from whorlpulse.findings.catalogue.pictures import ANSWERS
from whorlpulse.units import tpi_from_tpm
from whorlpulse.views.figures import cut, decimals_for, measured, plain
from whorlpulse.views.layout import Page, paragraph
from whorlpulse.views.terminal_pictures import Curve, Pen, bars, line_picture

if TYPE_CHECKING:
    from whorlpulse.estimators.turn_by_turn import Course
    from whorlpulse.findings.cadence_report import CadenceReport
    from whorlpulse.findings.report import TwistReport
    from whorlpulse.findings.slip_report import SlipReport

#: Longer logs have their ends in minutes.
_LONG_S: Final = 600.0
#: The profile of `twist` shows shorter yarns line by line already.
_FEWEST_WINDOWS: Final = 17
_FEWEST_POINTS: Final = 8


def ratio_picture(courses: Sequence[Course], pen: Pen) -> str | None:
    """Return the ratio along the log, its whorls as levels; None for too few turns."""
    return _along(ANSWERS["ratio"], _curves(courses), pen)


def cadence_picture(report: CadenceReport, courses: Sequence[Course], pen: Pen) -> str | None:
    """Return turns a minute along the log in true time; None for too few turns."""
    if report.clock is None:
        return None
    return _along(ANSWERS["cadence"], _curves(courses, 60.0 / report.clock.rate.value), pen)


def slip_picture(report: SlipReport, losses: Sequence[Course], pen: Pen) -> str | None:
    """Return the loss along the log with its bursts, and what it consists of as bars; None for too few turns."""
    if report.found is None or report.found.unseen:
        return None
    at = [b.start_s for b in report.found.bursts]
    said = ANSWERS["loss-bursts"].format(mark="▲" if pen.braille else "^") if at else ANSWERS["loss"]
    along = _along(said, _curves(losses), pen, marks=at)
    return along if along is None else f"{along}{_parts(report, pen)}"


def _parts(report: SlipReport, pen: Pen) -> str:
    """Bursts beside creep, where both are known and there is something to weigh."""
    found = report.found
    assert found is not None
    if found.creep is None or found.slip is None or not found.bursts or found.creep.value <= 0.0:
        return ""
    sudden = found.slip.value - found.creep.value
    rows = [
        (ANSWERS["bursts"], sudden, cut(100.0 * sudden, 2)),
        (ANSWERS["creep"], found.creep.value, measured(found.creep, 100.0)),
    ]
    if not pen.braille:  # a sign of two letters there, which must not push a bar aside
        rows = [(name, size, figure.replace("±", "+-")) for name, size, figure in rows]
    return f"\n\n  {ANSWERS['parts']}\n{bars(rows, pen)}"


def twist_picture(report: TwistReport, pen: Pen) -> str | None:
    """Return the twist along the yarn, where the profile joins windows to fewer lines; None for a shorter yarn."""
    along = report.found.along if report.found is not None else ()
    if len(along) < _FEWEST_WINDOWS:
        return None
    middle = np.array([0.5 * (w.from_m + w.to_m) for w in along])
    curve = Curve(middle, np.array([tpi_from_tpm(w.tpm) for w in along]))
    ends = tuple(ANSWERS["metres"].format(at=cut(at, 1)) for at in (along[0].from_m, along[-1].to_m))
    said = ANSWERS["twist"]
    if report.plan is not None:
        low, high = (plain(tpi_from_tpm(t)) for t in (report.plan.low_tpm, report.plan.high_tpm))
        said = ANSWERS["twist-plan"].format(low=low, high=high)
    return _picture(said, [curve], pen, (ends[0], ends[1]))


def _curves(courses: Sequence[Course], factor: float = 1.0) -> list[Curve]:
    return [Curve(c.t_s, factor * c.value) for c in courses if len(c.t_s)]


def _along(said: str, curves: Sequence[Curve], pen: Pen, marks: Sequence[float] = ()) -> str | None:
    if sum(len(c.x) for c in curves) < _FEWEST_POINTS:
        return None
    first, last = min(float(c.x[0]) for c in curves), max(float(c.x[-1]) for c in curves)
    unit, of = ("minutes", 60.0) if last > _LONG_S else ("seconds", 1.0)
    decimals = max(decimals_for((last - first) / of), 0) if last > first else 1
    start, end = (ANSWERS[unit].format(at=cut(t / of, decimals)) for t in (first, last))
    return _picture(said, curves, pen, (start, end), marks)


def _picture(said: str, curves: Sequence[Curve], pen: Pen, ends: tuple[str, str], marks: Sequence[float] = ()) -> str:
    values = np.concatenate([c.y[np.isfinite(c.y)] for c in curves])
    low, high = float(values.min()), float(values.max())
    decimals = decimals_for(high - low) + 1 if high > low else 3
    drawn = line_picture(curves, pen, (cut(high, decimals), cut(low, decimals)), ends, marks=marks)
    return f"{paragraph(Page(pen.width), said)}\n{drawn}"
