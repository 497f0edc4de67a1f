"""Cadence along the log, turn by turn, with its mean."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from whorlpulse.findings.catalogue.page import CHARTS
from whorlpulse.views.charts import theme
from whorlpulse.views.charts.chart import Chart, Extent, Unsaid, padded
from whorlpulse.views.charts.thinning import joined
from whorlpulse.views.figures import measured
from whorlpulse.views.report_words import axis, not_drawn, shows, span_words, why_not

if TYPE_CHECKING:
    from whorlpulse.findings.full_report import FullReport

NAME = "cadence"
_PER_MIN = 60.0
_LEAST_SPAN = 4.0


def extent(report: FullReport) -> Extent | None:
    """Return what the axes have to span; None where there is nothing to draw."""
    courses = report.courses.cadence
    if report.cadence.cannot_say is not None or not courses:
        return None
    every = _PER_MIN * np.concatenate([c.cadence_hz for c in courses])
    x = padded(0.0, max(float(c.t_s[-1]) for c in courses), 0.01, 1.0)
    return Extent(x, padded(float(every.min()), float(every.max()), least=_LEAST_SPAN))


def chart(report: FullReport, over: Extent | None = None) -> Chart | Unsaid:
    """Return the chart; over: the axes' extent, if not this log's own."""
    own, mean = extent(report), report.cadence.mean_hz
    if own is None or mean is None:
        return Unsaid(NAME, CHARTS[NAME], not_drawn(NAME, why=why_not(report.cadence.cannot_say)))
    over = own.with_(over)
    x, y = theme.axis_x("x", axis("seconds"), over.x), theme.axis_y("y", axis("cadence"), over.y)
    level = theme.inline([{"y": _PER_MIN * mean.value, "low": _PER_MIN * mean.low, "high": _PER_MIN * mean.high}])
    layers: list[dict[str, Any]] = [
        {
            "data": level,
            "mark": {"type": "rect", "color": theme.BAND, "clip": True},
            "encoding": {"y": {**y, "field": "low"}, "y2": {"field": "high"}},
        },
        {
            "data": theme.inline(joined([(c.t_s, _PER_MIN * c.cadence_hz) for c in report.courses.cadence])),
            "params": theme.zoomable("cadence_0"),
            "mark": {"type": "line", "color": theme.PALE, "strokeWidth": 1, "clip": True},
            "encoding": {
                "x": x,
                "y": y,
                "tooltip": [
                    theme.tip("x", axis("seconds"), ".1f"),
                    theme.tip("y", axis("cadence"), ".1f"),
                ],
            },
        },
        {
            "data": level,
            "mark": {"type": "rule", "color": theme.ACCENT, "strokeWidth": 2},
            "encoding": {"y": y},
        },
    ]
    every = _PER_MIN * np.concatenate([c.cadence_hz for c in report.courses.cadence])
    low, high = span_words(float(every.min()), float(every.max()))
    says = shows(NAME, mean=measured(mean, _PER_MIN), low=low, high=high)
    return Chart(NAME, CHARTS[NAME], says, theme.whole({"width": theme.WIDTH, "height": theme.HEIGHT, "layer": layers}))
