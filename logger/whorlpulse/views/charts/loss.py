"""Loss along the runs: what part of the flyer's turns the band loses, turn by turn, and its bursts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from whorlpulse.findings.catalogue.page import CHARTS
from whorlpulse.findings.catalogue.slip import SOURCES
from whorlpulse.views.charts import theme
from whorlpulse.views.charts.chart import Chart, Extent, Unsaid, padded
from whorlpulse.views.charts.thinning import joined, largest
from whorlpulse.views.figures import cut
from whorlpulse.views.report_words import axis, not_drawn, shows, span_words, why_not

if TYPE_CHECKING:
    from whorlpulse.estimators.slip import SlipEstimate
    from whorlpulse.findings.full_report import FullReport
    from whorlpulse.pulses import FloatArray

NAME = "loss"
_MOST_BURSTS = 300
#: Below this span, in per cent, the axis would magnify what is nothing.
_LEAST_SPAN = 0.1


def extent(report: FullReport) -> Extent | None:
    """Return what the axes have to span; None where there is nothing to draw."""
    found = _found(report)
    if found is None:
        return None
    rows = _losses(report, found)
    low = min(0.0, *(float(loss.min()) for _, loss in rows))
    high = max(0.0, *(float(loss.max()) for _, loss in rows))
    x = padded(min(float(x[0]) for x, _ in rows), max(float(x[-1]) for x, _ in rows), 0.01, 1.0)
    if found.bursts:
        at = [b.wheel_turn for b in found.bursts]
        x = min([x[0], min(at) - 0.01 * (x[1] - x[0])]), max([x[1], max(at) + 0.01 * (x[1] - x[0])])
    return Extent(x, padded(low, high, least=_LEAST_SPAN))


def chart(report: FullReport, over: Extent | None = None) -> Chart | Unsaid:
    """Return the chart; over: the axes' extent, if not this log's own."""
    own, found = extent(report), _found(report)
    if own is None or found is None:
        unseen = report.slip.found is not None and report.slip.found.unseen
        why = "loss-unseen" if unseen else NAME
        return Unsaid(NAME, CHARTS[NAME], not_drawn(why, why=why_not(report.slip.cannot_say)))
    over = own.with_(over)
    x, y = theme.axis_x("x", axis("wheel-turns"), over.x), theme.axis_y("y", axis("loss"), over.y)
    level, words = theme.named_level(theme.inline([{"y": 0.0, "says": axis("reference")}]), y, above=4)
    layers: list[dict[str, Any]] = [
        level,
        {
            "data": theme.inline(joined(_losses(report, found))),
            "params": theme.zoomable("loss_0"),
            "mark": {"type": "line", "color": theme.PALE, "strokeWidth": 1, "clip": True},
            "encoding": {"x": x, "y": y, "tooltip": _tips()},
        },
    ]
    bursts = _bursts(report, found)
    if bursts:
        layers.append(
            {
                "data": theme.inline(bursts),
                "mark": {"type": "point", "shape": "diamond", "stroke": theme.ACCENT, "size": 55, "opacity": 1},
                "encoding": {
                    "x": x,
                    "y": y,
                    "fill": {"field": "fill", "type": "nominal", "scale": None},
                    "tooltip": _burst_tips(),
                },
            }
        )
    spec = theme.whole({"width": theme.WIDTH, "height": theme.HEIGHT, "layer": [*layers, words]})
    return Chart(NAME, CHARTS[NAME], _says(report, found, bursts), spec)


def _found(report: FullReport) -> SlipEstimate | None:
    found = report.slip.found
    drawable = report.slip.cannot_say is None and report.courses.laps
    return found if found is not None and drawable and not found.unseen else None


def _losses(report: FullReport, found: SlipEstimate) -> list[tuple[FloatArray, FloatArray]]:
    """Wheel turns and loss in per cent of each unbroken course."""
    reference = {i: w.reference.ratio.value for w in found.whorls for i in w.runs}
    return [
        (c.wheel_turn, 100.0 * (1.0 - c.ratio / reference[c.run]))
        for c in report.courses.laps
        if c.run in reference and len(c.ratio)
    ]


def _bursts(report: FullReport, found: SlipEstimate) -> list[dict[str, Any]]:
    """A mark on the loss of the turn in which each burst began, the largest ones where they are too many."""
    if not found.bursts:
        return []
    courses = _losses(report, found)
    x, y = (np.concatenate(part) for part in zip(*courses, strict=True))
    at = np.array([b.wheel_turn for b in found.bursts])
    kept = largest(at, np.array([b.lost for b in found.bursts]), _MOST_BURSTS)
    rows = []
    for i in kept.tolist():
        burst = found.bursts[i]
        near = np.flatnonzero(np.abs(x - burst.wheel_turn) <= 1.0)
        top = int(near[np.argmax(y[near])]) if len(near) else None
        place = (burst.wheel_turn, 0.0, theme.PAPER) if top is None else (float(x[top]), float(y[top]), theme.ACCENT)
        named = {"at": cut(burst.start_s, 1), "lost": cut(burst.lost, 2)}
        rows.append({**dict(zip(("x", "y", "fill"), place, strict=True)), **named})
    return rows


def _tips() -> list[dict[str, Any]]:
    return [
        theme.tip("x", axis("wheel-turns"), ".1f"),
        theme.tip("y", axis("loss"), ".3f"),
    ]


def _burst_tips() -> list[dict[str, Any]]:
    return [theme.tip("at", axis("seconds")), theme.tip("lost", axis("lost"))]


def _says(report: FullReport, found: SlipEstimate, shown: list[dict[str, Any]]) -> str:
    source = found.whorls[0].reference
    words = SOURCES["wheel-file-diameters" if source.by_diameters else source.source]
    every = np.concatenate([loss for _, loss in _losses(report, found)])
    low, high = span_words(float(every.min()), float(every.max()))
    parts = [shows("loss", reference=f"the ratio without slip, {words}"), shows("loss-range", low=low, high=high)]
    if not found.bursts:
        return " ".join([*parts, shows("loss-none")])
    worst = max(found.bursts, key=lambda b: b.lost)
    key = "loss-bursts" if len(found.bursts) > 1 else "loss-bursts-one"
    parts.append(shows(key, bursts=len(found.bursts), largest=cut(worst.lost, 2), at_s=cut(worst.start_s, 1)))
    if any(b["fill"] == theme.PAPER for b in shown):
        parts.append(shows("loss-outside"))
    if len(shown) < len(found.bursts):
        parts.append(shows("loss-some", shown=len(shown)))
    return " ".join(parts)
