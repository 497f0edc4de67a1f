"""The wheel's speed within a turn, as a part of the mean: where the foot pushes, and how hard."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from whorlpulse.findings.catalogue.page import CHARTS, HEADS
from whorlpulse.views.charts import theme
from whorlpulse.views.charts.chart import Chart, Extent, Unsaid, padded
from whorlpulse.views.figures import cut, decimals_for, pair
from whorlpulse.views.report_words import axis, not_drawn, shows

if TYPE_CHECKING:
    from whorlpulse.estimators.turn_profile import TurnProfile
    from whorlpulse.findings.full_report import FullReport

NAME = "turn"
_HEIGHT = 180
_DEGREES = 360.0


def extent(report: FullReport) -> Extent | None:
    """Return what the axes have to span; None where there is nothing to draw."""
    found = report.cadence.profile
    if found is None:
        return None
    low = 100.0 * (min(p.speed.low for p in found.points) - 1.0)
    high = 100.0 * (max(p.speed.high for p in found.points) - 1.0)
    return Extent((0.0, _DEGREES), padded(low, high, least=2.0))


def chart(report: FullReport, over: Extent | None = None) -> Chart | Unsaid:
    """Return the chart; over: the axes' extent, if not this log's own."""
    own, found = extent(report), report.cadence.profile
    if own is None or found is None:
        return Unsaid(NAME, CHARTS[NAME], not_drawn(NAME))
    over = own.with_(over)
    x = theme.axis_x("x", axis("angle"), over.x, values=list(range(0, 361, 45)))
    y = theme.axis_y("y", axis("speed"), over.y)
    data = theme.inline(_points(found))
    layers: list[dict[str, Any]] = [
        {
            "data": data,
            "mark": {"type": "area", "color": theme.BAND, "interpolate": "monotone", "clip": True},
            "encoding": {"x": x, "y": {**y, "field": "low"}, "y2": {"field": "high"}},
        },
        {"data": theme.inline([{"y": 0.0}]), "mark": {"type": "rule", "color": theme.GRID}, "encoding": {"y": y}},
        {
            "data": data,
            "mark": {"type": "line", "color": theme.ACCENT, "strokeWidth": 2, "interpolate": "monotone", "clip": True},
            "encoding": {
                "x": x,
                "y": y,
                "tooltip": [
                    theme.tip("x", axis("angle"), ".0f"),
                    theme.tip("y", axis("speed"), ".2f"),
                ],
            },
        },
    ]
    spec = theme.whole({"width": theme.WIDTH, "height": _HEIGHT, "layer": layers})
    decimals = max(decimals_for(100.0 * max(p.speed.half_width for p in found.points)), 0)
    rows = tuple((cut(p.wheel_angle_turns, 3), cut(100.0 * (p.speed.value - 1.0), decimals)) for p in found.points)
    return Chart(NAME, CHARTS[NAME], _says(found), spec, HEADS["profile"], rows)


def _points(found: TurnProfile) -> list[dict[str, Any]]:
    """The points in degrees and per cent, the first one once more at the end of the turn."""
    points = [*((_DEGREES * p.wheel_angle_turns, p.speed) for p in found.points), (_DEGREES, found.points[0].speed)]
    return [
        {"x": x, "y": 100.0 * (s.value - 1.0), "low": 100.0 * (s.low - 1.0), "high": 100.0 * (s.high - 1.0)}
        for x, s in points
    ]


def _says(found: TurnProfile) -> str:
    value, half = pair(100.0 * found.swing.value, 100.0 * found.swing.half_width)
    swing = f"{value} ± {half}" if half else value
    if not found.sure:
        return shows("turn-unsure", turns=found.laps, swing=swing)
    slow = " and ".join(f"{_DEGREES * a:.0f}°" for a in found.slow)
    return shows(NAME, turns=found.laps, swing=swing, slow=slow, fastest=f"{_DEGREES * found.fastest:.0f}°")
