"""The look of the charts: paper, ink, one accent; safe for colour-blind readers; letters that every machine has."""

from __future__ import annotations

from typing import Any, Final

PAPER: Final = "#fdfbf6"
INK: Final = "#2b2925"
SOFT: Final = "#6b665c"
PALE: Final = "#a9a294"
GRID: Final = "#e9e3d6"
BAND: Final = "#dfe7e8"
#: The one accent: a blue that stays apart from ink and greys for every kind of colour vision.
ACCENT: Final = "#0b5f86"
FONT: Final = "Arial, 'Liberation Sans', Helvetica, sans-serif"
WIDTH: Final = 620
HEIGHT: Final = 210
SCHEMA: Final = "https://vega.github.io/schema/vega-lite/v6.json"

CONFIG: Final[dict[str, Any]] = {
    "font": FONT,
    "background": None,
    "aria": False,
    "padding": 4,
    "view": {"stroke": None},
    "axis": {
        "labelFontSize": 11,
        "titleFontSize": 11.5,
        "titleFontWeight": "normal",
        "labelColor": SOFT,
        "titleColor": INK,
        "titlePadding": 8,
        "domainColor": PALE,
        "tickColor": PALE,
        "tickSize": 4,
        "gridColor": GRID,
        "labelFlush": False,
    },
    "axisX": {"grid": False, "labelOverlap": True, "labelSeparation": 6},
    "axisY": {"domain": False, "ticks": False, "tickCount": 5, "minExtent": 42},
    "text": {"fontSize": 11, "color": INK},
    "title": {
        "fontSize": 11.5,
        "fontWeight": "normal",
        "anchor": "start",
        "color": INK,
        "offset": 6,
    },
    "legend": {"disable": True},
    "concat": {"spacing": 14},
}


def axis_x(field: str, title: str | None, span: tuple[float, float], **axis: Any) -> dict[str, Any]:
    """Return a quantitative x channel over `span`; axis: properties of its axis."""
    return _channel(field, title, span, {"tickCount": 9, "format": "~f", **axis})


def axis_y(field: str, title: str | None, span: tuple[float, float], **axis: Any) -> dict[str, Any]:
    """Return a quantitative y channel over `span`; axis: properties of its axis."""
    return _channel(field, title, span, axis)


def _channel(field: str, title: str | None, span: tuple[float, float], axis: dict[str, Any]) -> dict[str, Any]:
    scale = {"domain": list(span), "zero": False, "nice": False}
    return {"field": field, "type": "quantitative", "title": title, "scale": scale, **({"axis": axis} if axis else {})}


def zoomable(name: str) -> list[dict[str, Any]]:
    """Return the selection that lets a reader with scripts move along x; without scripts it does nothing."""
    return [
        {
            "name": name,
            "select": {
                "type": "interval",
                "encodings": ["x"],
                "zoom": "wheel![event.shiftKey]",
            },
            "bind": "scales",
        }
    ]


def tip(field: str, title: str, figures: str = "") -> dict[str, str]:
    """Return what a pointer is told of a field; figures: how its numbers are written, `.2f`, else as they are."""
    return {"field": field, "title": title, **({"format": figures} if figures else {})}


def named_level(data: dict[str, Any], y: dict[str, Any], above: int) -> list[dict[str, Any]]:
    """Return a dashed level over the whole width and, so many points above its right end, the words in `says`."""
    words = {"type": "text", "align": "right", "baseline": "bottom", "dy": -above, "x": WIDTH - 4, "color": SOFT}
    return [
        {"data": data, "mark": {"type": "rule", "color": SOFT, "strokeDash": [5, 4]}, "encoding": {"y": y}},
        {"data": data, "mark": words, "encoding": {"y": y, "text": {"field": "says"}}},
    ]


def inline(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Return rows as a chart's data, their numbers to six digits: finer than any eye, and much shorter."""
    return {"values": [{k: float(f"{v:.6g}") if isinstance(v, float) else v for k, v in row.items()} for row in rows]}


def whole(spec: dict[str, Any]) -> dict[str, Any]:
    """Return the specification with schema and look."""
    return {"$schema": SCHEMA, "config": CONFIG, **spec}
