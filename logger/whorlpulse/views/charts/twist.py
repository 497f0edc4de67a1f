"""Twist along the yarn, in steps, with the plan's band and the stretches off plan in metres."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from whorlpulse.findings.catalogue.page import CHARTS, HEADS
from whorlpulse.units import tpi_from_tpm
from whorlpulse.views.charts import theme
from whorlpulse.views.charts.chart import MOST_ROWS, Chart, Extent, Unsaid, padded
from whorlpulse.views.charts.thinning import MOST_POINTS, thinned
from whorlpulse.views.figures import cut, plain
from whorlpulse.views.report_words import axis, not_drawn, shows, why_not

if TYPE_CHECKING:
    from whorlpulse.estimators.twist import OffPlan, TwistEstimate
    from whorlpulse.findings.full_report import FullReport

NAME = "twist"
_TPI = tpi_from_tpm(1.0)
_MOST_NAMED = 6


def extent(report: FullReport) -> Extent | None:
    """Return what the axes have to span, y in turns per inch; None where there is nothing to draw."""
    found, plan = report.twist.found, report.twist.plan
    if report.twist.cannot_say is not None or found is None or len(found.along) < 2:
        return None
    tpi = [w.tpm * _TPI for w in found.along]
    edges = [plan.low_tpm * _TPI, plan.high_tpm * _TPI] if plan is not None else []
    low, high = padded(min([*tpi, *edges]), max([*tpi, *edges]))
    # room for the names of stretches below the lowest and above the highest
    room = 0.14 * (high - low)
    low -= room if any(s.verdict == "under" for s in report.twist.off_plan) else 0.0
    high += room if any(s.verdict == "over" for s in report.twist.off_plan) else 0.0
    return Extent((0.0, found.along[-1].to_m), (low, high))


def chart(report: FullReport, over: Extent | None = None) -> Chart | Unsaid:
    """Return the chart; over: the axes' extent, if not this log's own."""
    own, found = extent(report), report.twist.found
    if own is None or found is None:
        total = report.twist.cannot_say is None
        return Unsaid(
            NAME,
            CHARTS[NAME],
            not_drawn("twist-total" if total else NAME, why=why_not(report.twist.cannot_say)),
        )
    over = own.with_(over)
    x, y = theme.axis_x("x", axis("metres"), over.x), theme.axis_y("y", axis("tpi"), over.y)
    layers: list[dict[str, Any]] = []
    if report.twist.plan is not None:
        layers += _plan(report, y)
    layers.append(_line(found, x, y))
    if report.twist.off_plan:
        layers += _off_plan(report.twist.off_plan, x, y)
    spec = theme.whole({"width": theme.WIDTH, "height": theme.HEIGHT, "layer": [{"layer": layers}, _per_metre(over)]})
    spec["resolve"] = {"scale": {"y": "independent"}}
    rows: tuple[tuple[str, ...], ...] = ()
    if len(found.along) <= MOST_ROWS:
        rows = tuple((cut(w.from_m, 1), cut(w.to_m, 1), plain(w.tpm * _TPI), plain(w.tpm)) for w in found.along)
    return Chart(NAME, CHARTS[NAME], _says(report, found), spec, HEADS["along"], rows)


def _plan(report: FullReport, y: dict[str, Any]) -> list[dict[str, Any]]:
    plan = report.twist.plan
    assert plan is not None
    data = theme.inline(
        [
            {
                "low": plan.low_tpm * _TPI,
                "high": plan.high_tpm * _TPI,
                "y": plan.twist_tpm * _TPI,
                "says": axis("plan"),
            }
        ]
    )
    return [
        {
            "data": data,
            "mark": {"type": "rect", "color": theme.BAND, "clip": True},
            "encoding": {"y": {**y, "field": "low"}, "y2": {"field": "high"}},
        },
        {
            "data": data,
            "mark": {
                "type": "text",
                "align": "right",
                "baseline": "top",
                "dy": 4,
                "x": theme.WIDTH - 4,
                "color": theme.SOFT,
            },
            "encoding": {"y": {**y, "field": "high"}, "text": {"field": "says"}},
        },
    ]


def _line(found: TwistEstimate, x: dict[str, Any], y: dict[str, Any]) -> dict[str, Any]:
    along = found.along
    kept = thinned(np.array([w.tpm for w in along]), MOST_POINTS // 2).tolist()
    rows = [{"x": along[i].from_m, "y": along[i].tpm * _TPI, "to": along[i].to_m} for i in kept]
    rows.append({"x": along[-1].to_m, "y": along[-1].tpm * _TPI, "to": along[-1].to_m})
    return {
        "data": theme.inline(rows),
        "params": theme.zoomable("twist_0"),
        "mark": {"type": "line", "interpolate": "step-after", "color": theme.INK, "strokeWidth": 1.6, "clip": True},
        "encoding": {
            "x": x,
            "y": y,
            "tooltip": [
                theme.tip("x", "from, m", ".2f"),
                theme.tip("to", "to, m", ".2f"),
                theme.tip("y", axis("tpi"), ".2f"),
            ],
        },
    }


def _off_plan(stretches: tuple[OffPlan, ...], x: dict[str, Any], y: dict[str, Any]) -> list[dict[str, Any]]:
    """A heavy line at each stretch's own twist, and where it lies."""
    rows = [{"x": s.from_m, "x2": s.to_m, "y": s.tpm * _TPI, "says": _stretch(s)} for s in stretches]
    layers: list[dict[str, Any]] = [
        {
            "data": theme.inline(rows),
            "mark": {"type": "rule", "color": theme.ACCENT, "strokeWidth": 5, "clip": True},
            "encoding": {"x": x, "x2": {"field": "x2"}, "y": y},
        }
    ]
    if len(stretches) > _MOST_NAMED:
        return layers
    for verdict, below in (("under", True), ("over", False)):
        named = [
            {"x": 0.5 * (s.from_m + s.to_m), "y": s.tpm * _TPI, "says": _stretch(s)}
            for s in stretches
            if s.verdict == verdict
        ]
        mark = {
            "type": "text",
            "baseline": "top" if below else "bottom",
            "dy": 9 if below else -9,
            "color": theme.ACCENT,
        }
        if named:
            encoding = {"x": x, "y": y, "text": {"field": "says"}}
            layers.append({"data": theme.inline(named), "mark": {**mark, "fontWeight": "bold"}, "encoding": encoding})
    return layers


def _per_metre(over: Extent) -> dict[str, Any]:
    """The second scale: the same heights in turns per metre."""
    low, high = over.y[0] / _TPI, over.y[1] / _TPI
    y = theme.axis_y("y", axis("tpm"), (low, high), orient="right", grid=False)
    return {"data": theme.inline([{"y": low}]), "mark": {"type": "rule", "opacity": 0}, "encoding": {"y": y}}


def _stretch(s: OffPlan) -> str:
    return shows("twist-off-one", start=cut(s.from_m, 1), stop=cut(s.to_m, 1), verdict=s.verdict)


def _says(report: FullReport, found: TwistEstimate) -> str:
    step = found.along[0].to_m - found.along[0].from_m
    parts = [shows(NAME, step=f"{step:g}")]
    if report.twist.plan is not None:
        parts.append(shows("twist-plan"))
        off = report.twist.off_plan
        named = "; ".join(_stretch(s) for s in off[:_MOST_NAMED]) + ("; …" if len(off) > _MOST_NAMED else "")
        parts.append(shows("twist-off", stretches=named) if off else shows("twist-on"))
    return " ".join(parts)
