"""The line under points: the lower convex hull, and the slope of its edge over a place; no input or output."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

Point = tuple[float, float]


def lower_hull(points: Sequence[Point]) -> list[Point]:
    """Return the corners of the lower convex hull, points ascending in their first coordinate (Andrew's chain)."""
    hull: list[Point] = []
    for x, y in points:
        if hull and x == hull[-1][0]:
            if y >= hull[-1][1]:
                continue
            hull.pop()
        while len(hull) > 1 and not _turns_left(hull[-2], hull[-1], (x, y)):
            hull.pop()
        hull.append((x, y))
    return hull


def slope_over(points: Sequence[Point], x: float) -> float:
    """Return the slope of the lower hull's edge that lies over `x`; 0 where there is none.

    The line through that edge is, of all lines that no point lies under, the one nearest to the points if `x` is
    their mean: the sum of distances is least where a line of that slope touches the hull.
    """
    for (x0, y0), (x1, y1) in itertools.pairwise(lower_hull(points)):
        if x <= x1:
            return (y1 - y0) / (x1 - x0)
    return 0.0


def _turns_left(a: Point, b: Point, c: Point) -> bool:
    return (b[0] - a[0]) * (c[1] - a[1]) > (c[0] - a[0]) * (b[1] - a[1])
