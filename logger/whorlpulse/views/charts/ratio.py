"""Ratio along the runs: turn by turn, each run's level with what another such run should have, a panel a whorl."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from whorlpulse.findings.catalogue.page import CHARTS
from whorlpulse.views.charts import theme
from whorlpulse.views.charts.chart import Chart, Extent, Unsaid, padded
from whorlpulse.views.charts.thinning import joined
from whorlpulse.views.figures import alone, measured
from whorlpulse.views.report_words import axis, not_drawn, shows, span_words, why_not

if TYPE_CHECKING:
    from whorlpulse.findings.full_report import FullReport, LapCourse
    from whorlpulse.findings.report import WhorlLine

NAME = "ratio"
_SEVERAL_HEIGHT = 120
_FEW_RUNS = 60


def extent(report: FullReport) -> Extent | None:
    """Return what the axes have to span; None where there is nothing to draw."""
    laps = report.courses.laps
    if report.ratio.cannot_say is not None or not laps:
        return None
    panels = {}
    for i, whorl in enumerate(report.ratio.whorls):
        mine = [lap for lap in laps if lap.whorl == i]
        if mine:
            panels[_key(whorl, i)] = _levels(report, whorl, mine)
    x = padded(min(float(c.wheel_turn[0]) for c in laps), max(float(c.wheel_turn[-1]) for c in laps), 0.01, 1.0)
    every = list(panels.values())
    return Extent(x, (min(low for low, _ in every), max(high for _, high in every)), panels)


def chart(report: FullReport, over: Extent | None = None) -> Chart | Unsaid:
    """Return the chart; over: the axes' extent, if not this log's own."""
    own = extent(report)
    if own is None:
        return Unsaid(NAME, CHARTS[NAME], not_drawn(NAME, why=why_not(report.ratio.cannot_say)))
    over = own.with_(over)
    whorls = [(i, w) for i, w in enumerate(report.ratio.whorls) if _key(w, i) in own.panels]
    several = len(whorls) > 1
    panels = [_panel(report, i, w, over, last=n == len(whorls) - 1, titled=several) for n, (i, w) in enumerate(whorls)]
    spec = theme.whole({"vconcat": panels} if several else panels[0])
    drawn = any(_shows_no_slip(w, over.panels[_key(w, i)]) for i, w in whorls)
    return Chart(NAME, CHARTS[NAME], _says(report, [w for _, w in whorls], drawn=drawn), spec)


def _key(whorl: WhorlLine, i: int) -> str:
    return whorl.name if whorl.name is not None else f"#{i}"


def _levels(report: FullReport, whorl: WhorlLine, laps: Iterable[LapCourse]) -> tuple[float, float]:
    """The span of a panel's y: turns, runs' intervals, and the ratio without slip where it is not far off."""
    runs = [report.ratio.runs[i] for i in whorl.runs]
    low = min([*(float(c.ratio.min()) for c in laps), *(r.expected.low for r in runs)])
    high = max([*(float(c.ratio.max()) for c in laps), *(r.expected.high for r in runs)])
    if whorl.no_slip is not None and low - (high - low) <= whorl.no_slip.value <= high + (high - low):
        low, high = min(low, whorl.no_slip.value), max(high, whorl.no_slip.value)
    return padded(low, high)


def _panel(report: FullReport, i: int, whorl: WhorlLine, over: Extent, *, last: bool, titled: bool) -> dict[str, Any]:
    laps, y = [c for c in report.courses.laps if c.whorl == i], over.panels[_key(whorl, i)]
    x = theme.axis_x("x", axis("wheel-turns") if last else None, over.x, labels=last)
    level = theme.axis_y("y", axis("ratio") if not titled else None, y)
    runs = _runs(report, laps)
    layers: list[dict[str, Any]] = [
        _band(runs, x, level),
        {
            "data": theme.inline(joined([(c.wheel_turn, c.ratio) for c in laps])),
            "params": theme.zoomable(f"ratio_{i}"),
            "mark": {"type": "line", "color": theme.PALE, "strokeWidth": 1, "clip": True, "point": _dots(laps)},
            "encoding": {"x": x, "y": level, "tooltip": _tips()},
        },
        _level(runs, x, level),
    ]
    if _shows_no_slip(whorl, y):
        layers += _no_slip(whorl, level)
    title = {"title": axis("whorl", name=whorl.name or f"{i + 1}", ratio=alone(whorl.ratio))} if titled else {}
    return {**title, "width": theme.WIDTH, "height": _SEVERAL_HEIGHT if titled else theme.HEIGHT, "layer": layers}


def _band(runs: list[dict[str, Any]], x: dict[str, Any], level: dict[str, Any]) -> dict[str, Any]:
    """The intervals of other such runs: a box each, or one shape where runs are many."""
    y = {"y": {**level, "field": "low"}, "y2": {"field": "high"}}
    if len(runs) <= _FEW_RUNS:
        mark = {"type": "rect", "color": theme.BAND, "clip": True}
        return {"data": theme.inline(runs), "mark": mark, "encoding": {"x": x, "x2": {"field": "x2"}, **y}}
    return {
        "data": theme.inline(_steps(runs, "low", "high")),
        "mark": {"type": "area", "color": theme.BAND, "clip": True},
        "encoding": {"x": x, **y},
    }


def _level(runs: list[dict[str, Any]], x: dict[str, Any], level: dict[str, Any]) -> dict[str, Any]:
    """The runs' ratios: a line each that names its run, or one broken line where runs are many."""
    look = {"color": theme.ACCENT, "strokeWidth": 2, "clip": True}
    if len(runs) > _FEW_RUNS:
        return {
            "data": theme.inline(_steps(runs, "y")),
            "mark": {"type": "line", **look},
            "encoding": {"x": x, "y": level},
        }
    named = [theme.tip("run", "run"), theme.tip("said", "ratio")]
    return {
        "data": theme.inline(runs),
        "mark": {"type": "rule", **look},
        "encoding": {"x": x, "x2": {"field": "x2"}, "y": level, "tooltip": named},
    }


def _steps(runs: list[dict[str, Any]], *fields: str) -> list[dict[str, Any]]:
    """Both ends of each run, and a row without figures that parts it from the next."""
    rows = []
    for r in runs:
        figures = {f: r[f] for f in fields}
        rows += [{"x": r["x"], **figures}, {"x": r["x2"], **figures}, {"x": r["x2"], **dict.fromkeys(fields)}]
    return rows


def _shows_no_slip(whorl: WhorlLine, y: tuple[float, float]) -> bool:
    return whorl.no_slip is not None and y[0] <= whorl.no_slip.value <= y[1]


def _no_slip(whorl: WhorlLine, level: dict[str, Any]) -> list[dict[str, Any]]:
    assert whorl.no_slip is not None
    data = theme.inline([{"y": whorl.no_slip.value, "says": axis("no-slip", ratio=measured(whorl.no_slip))}])
    return theme.named_level(data, level, above=3)


def _dots(laps: list[LapCourse]) -> dict[str, Any] | bool:
    """Turns as dots too, where they are few enough to be told apart."""
    return {"size": 9, "color": theme.PALE} if sum(len(c.ratio) for c in laps) <= 250 else False


def _runs(report: FullReport, laps: list[LapCourse]) -> list[dict[str, Any]]:
    rows = []
    for run in sorted({c.run for c in laps}):
        mine = [c for c in laps if c.run == run]
        line = report.ratio.runs[run]
        rows.append(
            {
                "x": float(mine[0].wheel_turn[0]),
                "x2": float(mine[-1].wheel_turn[-1]),
                "y": line.ratio.value,
                "low": line.expected.low,
                "high": line.expected.high,
                "run": run + 1,
                "said": measured(line.ratio),
            }
        )
    return rows


def _tips() -> list[dict[str, Any]]:
    return [
        theme.tip("x", axis("wheel-turns"), ".1f"),
        theme.tip("y", axis("ratio"), ".5f"),
    ]


def _says(report: FullReport, whorls: list[WhorlLine], *, drawn: bool) -> str:
    parts = [shows("ratio")]
    for i, w in enumerate(whorls):
        every = np.concatenate([c.ratio for c in report.courses.laps if report.ratio.whorls[c.whorl] is w])
        low, high = span_words(float(every.min()), float(every.max()))
        if len(whorls) == 1:
            parts.append(shows("ratio-range", low=low, high=high))
        else:
            parts.append(shows("ratio-whorl", name=w.name or f"{i + 1}", low=low, high=high))
    known = [w.no_slip for w in whorls if w.no_slip is not None]
    if drawn:
        parts.append(shows("ratio-no-slip"))
    elif len(known) == 1:
        parts.append(shows("ratio-no-slip-far", ratio=known[0]))
    return " ".join(parts)
