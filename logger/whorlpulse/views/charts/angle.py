"""Loss against the wheel's angle: in bursts by sector, and from target to target against even spacing."""

from __future__ import annotations

from math import floor
from typing import TYPE_CHECKING, Any

from whorlpulse.findings.catalogue.page import CHARTS
from whorlpulse.views.charts import theme
from whorlpulse.views.charts.chart import Chart, Extent, Unsaid, padded
from whorlpulse.views.figures import cut
from whorlpulse.views.report_words import axis, not_drawn, shows, span_words, why_not

if TYPE_CHECKING:
    from whorlpulse.estimators.slip_events import Burst
    from whorlpulse.findings.full_report import FullReport

NAME = "angle"
_HEIGHT = 150
_SECTORS = 12
_DEGREES = 360.0
_FEWEST_TARGETS = 4
_BURSTS, _UNEVEN = "bursts", "targets"


def extent(report: FullReport) -> Extent | None:
    """Return what the axes have to span; None where there is nothing to draw."""
    if report.slip.cannot_say is not None:
        return None
    panels = {}
    sectors, uneven = _sectors(_all_bursts(report)), _uneven(report)
    if sectors:
        panels[_BURSTS] = (0.0, 1.05 * max(lost for _, _, lost in sectors))
    if uneven:
        off = [y for _, _, y in uneven]
        panels[_UNEVEN] = padded(min(0.0, *off), max(0.0, *off), least=0.2)
    return Extent((0.0, _DEGREES), (0.0, 1.0), panels) if panels else None


def chart(report: FullReport, over: Extent | None = None) -> Chart | Unsaid:
    """Return the chart; over: the axes' extent, if not this log's own."""
    own = extent(report)
    if own is None:
        key = "angle-no-slip" if report.slip.cannot_say is not None else NAME
        return Unsaid(NAME, CHARTS[NAME], not_drawn(key, why=why_not(report.slip.cannot_say)))
    over = own.with_(over)
    sectors, uneven = _sectors(_all_bursts(report)), _uneven(report)
    panels, says = [], []
    if sectors:
        panels.append(_bars(sectors, axis("lost"), over.panels[_BURSTS], theme.ACCENT))
        low, high, most = max(sectors, key=lambda s: s[2])
        total = sum(lost for _, _, lost in sectors)
        says.append(shows("angle-bursts", low=round(low), high=round(high), most=cut(most, 2), total=cut(total, 2)))
    if uneven:
        panels.append(_bars(uneven, axis("uneven"), over.panels[_UNEVEN], theme.PALE))
        first, last = span_words(min(y for _, _, y in uneven), max(y for _, _, y in uneven))
        says.append(shows("angle-targets", low=first, high=last))
    panels[-1]["encoding"]["x"]["title"] = axis("angle")
    spec = theme.whole({"vconcat": panels} if len(panels) > 1 else panels[0])
    return Chart(NAME, CHARTS[NAME], " ".join(says), spec)


def _all_bursts(report: FullReport) -> tuple[Burst, ...]:
    return report.slip.found.bursts if report.slip.found is not None else ()


def _sectors(bursts: tuple[Burst, ...]) -> list[tuple[float, float, float]]:
    """From and to in degrees, flyer turns lost: all sectors, or none without bursts."""
    if not bursts:
        return []
    lost = [0.0] * _SECTORS
    for b in bursts:
        lost[min(floor(b.wheel_angle_turns * _SECTORS), _SECTORS - 1)] += b.lost
    wide = _DEGREES / _SECTORS
    return [(i * wide, (i + 1) * wide, x) for i, x in enumerate(lost)]


def _uneven(report: FullReport) -> list[tuple[float, float, float]]:
    """From and to in degrees as if even, and by how many per cent the flyer's turns between two targets are off."""
    wheel = next((c for c in report.health.channels if c.letter == "w"), None)
    angles = wheel.angles_turns if wheel is not None else None
    if angles is None or len(angles) < _FEWEST_TARGETS:
        return []
    n, wide = len(angles), _DEGREES / len(angles)
    ends = [*angles[1:], 1.0]
    return [(i * wide, (i + 1) * wide, 100.0 * ((ends[i] - angles[i]) * n - 1.0)) for i in range(n)]


def _bars(rows: list[tuple[float, float, float]], title: str, span: tuple[float, float], colour: str) -> dict[str, Any]:
    gap = 2.0
    x = theme.axis_x("from", None, (0.0, _DEGREES), values=list(range(0, 361, 30)))
    return {
        "width": theme.WIDTH,
        "height": _HEIGHT,
        "data": theme.inline([{"from": a + gap, "to": b - gap, "y": y, "zero": 0.0} for a, b, y in rows]),
        "mark": {"type": "rect", "color": colour, "clip": True},
        "encoding": {
            "x": x,
            "x2": {"field": "to"},
            "y": theme.axis_y("y", title, span),
            "y2": {"field": "zero"},
            "tooltip": [theme.tip("y", title, ".3f")],
        },
    }
