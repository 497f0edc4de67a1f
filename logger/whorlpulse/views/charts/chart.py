"""What a chart is: its specification, the sentence that stands for it, and the figures that it draws."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

Spec = dict[str, Any]
#: Data of more rows than this go into no table beside the picture.
MOST_ROWS: Final = 40


@dataclass(frozen=True)
class Chart:
    """A picture to be. says: one sentence in place of the picture; head, rows: its figures where they are few."""

    name: str
    title: str
    says: str
    spec: Spec
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    hint: str = ""


@dataclass(frozen=True)
class Unsaid:
    """A chart that this log can't fill, and why."""

    name: str
    title: str
    why: str


@dataclass(frozen=True)
class Extent:
    """What the axes have to span: (low, high) of x and y, or of each panel's y."""

    x: tuple[float, float]
    y: tuple[float, float]
    panels: dict[str, tuple[float, float]] = field(default_factory=dict)

    def with_(self, other: Extent | None) -> Extent:
        """Return the extent that spans both, for two pictures on the same scales."""
        if other is None:
            return self
        panels = dict(self.panels)
        for key, span in other.panels.items():
            panels[key] = _both(panels[key], span) if key in panels else span
        return Extent(_both(self.x, other.x), _both(self.y, other.y), panels)


def _both(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    return min(a[0], b[0]), max(a[1], b[1])


def padded(low: float, high: float, part: float = 0.06, least: float = 0.0) -> tuple[float, float]:
    """Return the span with some air, and no narrower than `least`."""
    middle, half = 0.5 * (low + high), max(0.5 * (high - low), 0.5 * least, 1e-12)
    return middle - half * (1.0 + 2.0 * part), middle + half * (1.0 + 2.0 * part)
