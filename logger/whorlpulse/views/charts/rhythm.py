"""The loss folded on the round of its strongest rhythm: what the band's joint, say, does each time it comes by."""

from __future__ import annotations

from math import cos, pi
from typing import TYPE_CHECKING, Any

from whorlpulse.findings.catalogue.page import CHARTS
from whorlpulse.views.charts import theme
from whorlpulse.views.charts.chart import Chart, Extent, Unsaid, padded
from whorlpulse.views.figures import cut, plain
from whorlpulse.views.report_words import axis, not_drawn, shows, why_not

if TYPE_CHECKING:
    from whorlpulse.findings.full_report import FullReport, RhythmCourse

NAME = "rhythm"
_HEIGHT = 170
_K95 = 1.96
_CURVE = 120


def extent(report: FullReport) -> Extent | None:
    """Return what the axes have to span; None where there is nothing to draw."""
    course = _strongest(report)
    if course is None:
        return None
    reach = 100.0 * max(float(abs(course.share).max() + _K95 * course.share_u.max()), course.amplitude)
    return Extent((0.0, 1.0), padded(-reach, reach))


def chart(report: FullReport, over: Extent | None = None) -> Chart | Unsaid:
    """Return the chart; over: the axes' extent, if not this log's own."""
    own, course = extent(report), _strongest(report)
    if own is None or course is None or report.slip.found is None:
        return Unsaid(NAME, CHARTS[NAME], _why_not(report))
    over = own.with_(over)
    x = theme.axis_x("x", axis("round"), over.x, tickCount=5, format=".1f")
    y = theme.axis_y("y", axis("rhythm"), over.y)
    points = [
        {"x": float(p), "y": 100.0 * float(s), "low": 100.0 * float(s - _K95 * u), "high": 100.0 * float(s + _K95 * u)}
        for p, s, u in zip(course.phase, course.share, course.share_u, strict=True)
    ]
    layers: list[dict[str, Any]] = [
        {"data": theme.inline([{"y": 0.0}]), "mark": {"type": "rule", "color": theme.GRID}, "encoding": {"y": y}},
        {
            "data": theme.inline(_sine(course)),
            "mark": {"type": "line", "color": theme.ACCENT, "strokeWidth": 2, "clip": True},
            "encoding": {"x": x, "y": y},
        },
        {
            "data": theme.inline(points),
            "mark": {"type": "rule", "color": theme.INK, "clip": True},
            "encoding": {"x": x, "y": {**y, "field": "low"}, "y2": {"field": "high"}},
        },
        {
            "data": theme.inline(points),
            "mark": {"type": "point", "filled": True, "color": theme.INK, "size": 22, "opacity": 1, "clip": True},
            "encoding": {"x": x, "y": y},
        },
    ]
    spec = theme.whole({"width": theme.WIDTH, "height": _HEIGHT, "layer": layers})
    line = report.slip.found.whorls[course.whorl].lines[course.line]
    what = shows("rhythm-unknown" if line.source != "band" else "rhythm-band" if line.multiple == 1 else "rhythm-part")
    says = shows(NAME, what=what, order=plain(line.per_wheel_turn), size=cut(100.0 * line.share, 2))
    return Chart(NAME, CHARTS[NAME], says, spec)


def _strongest(report: FullReport) -> RhythmCourse | None:
    return max(report.courses.rhythms, key=lambda c: c.amplitude, default=None)


def _sine(course: RhythmCourse) -> list[dict[str, Any]]:
    at = [i / _CURVE for i in range(_CURVE + 1)]
    return [{"x": x, "y": 100.0 * course.amplitude * cos(2.0 * pi * (x - course.at_phase))} for x in at]


def _why_not(report: FullReport) -> str:
    found = report.slip.found
    if report.slip.cannot_say is not None or found is None:
        return not_drawn("rhythm-no-slip", why=why_not(report.slip.cannot_say))
    lines = [line for w in found.whorls for line in w.lines if line.source != "wheel"]
    return not_drawn("rhythm-few" if lines else NAME)
