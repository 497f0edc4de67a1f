"""Small pictures for a terminal: lines of braille dots and bars of blocks, or of plain ASCII where it can do no better.

A line picture is a grid of cells, each 2 dots wide and 4 high (ASCII: 1 and 2). A point falls into the dot that its
place lies in, and the line from point to point fills the dots between; so the least and the greatest value of a course
are always dots of the lowest and the highest row, however many points there are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from whorlpulse.pulses import FloatArray, IntArray

#: Bit of each dot of a braille cell, by column and row from the top (Unicode block U+2800, ISO/TR 11548-1 numbering).
_BITS: Final = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_BRAILLE: Final = 0x2800
#: An ASCII cell by which of its halves has a dot: none, upper, lower, both.
_ASCII_CELLS: Final = " '.:"
_EIGHTHS: Final = " ▏▎▍▌▋▊▉█"
_LINES: Final = 5


@dataclass(frozen=True)
class Pen:
    """What a terminal can draw with. width: in characters, margins included; braille: else ASCII only."""

    width: int
    braille: bool = True

    @property
    def dots(self) -> tuple[int, int]:
        """Dots across and down of one cell."""
        return (2, 4) if self.braille else (1, 2)


@dataclass(frozen=True)
class Curve:
    """One unbroken course: x (n,) rising, y (n,)."""

    x: FloatArray
    y: FloatArray


@dataclass(frozen=True)
class Scale:
    """Values from low to high over `size` dots."""

    low: float
    high: float
    size: int

    def dot(self, value: FloatArray) -> IntArray:
        """The dot 0 … size − 1 that each value (n,) lies in; the middle one where there is no range."""
        span = self.high - self.low
        if not span > 0.0:
            return np.full(len(value), self.size // 2, np.int64)
        at: IntArray = np.clip(((value - self.low) / span * self.size).astype(np.int64), 0, self.size - 1)
        return at


def line_cells(curves: Sequence[Curve], columns: int, lines: int, pen: Pen) -> list[str]:
    """Return `lines` strings of `columns` characters with the curves in them; the first line is the top.

    The picture spans exactly the least to the greatest x and y of all curves, of which at least one has a point.
    """
    across, down = pen.dots
    grid = np.zeros((lines * down, columns * across), bool)
    xs, ys = (np.concatenate([getattr(c, axis) for c in curves]) for axis in "xy")
    x_scale = Scale(float(xs.min()), float(xs.max()), grid.shape[1])
    y_scale = Scale(float(ys.min()), float(ys.max()), grid.shape[0])
    for curve in curves:
        _draw(grid, x_scale.dot(curve.x), y_scale.dot(curve.y))
    return [_row(grid[i * down : (i + 1) * down], pen) for i in range(lines)]


def _draw(grid: np.ndarray, column: IntArray, level: IntArray) -> None:
    """Set the dots of a course; level counts from the bottom."""
    if len(column) == 0:
        return
    top = grid.shape[0] - 1
    grid[top - level, column] = True
    column, level = _thinned(column, level)
    for (c0, v0), (c1, v1) in zip(
        zip(column[:-1].tolist(), level[:-1].tolist(), strict=True),
        zip(column[1:].tolist(), level[1:].tolist(), strict=True),
        strict=True,
    ):
        steps = max(abs(c1 - c0), abs(v1 - v0))
        part = np.arange(steps + 1) / max(steps, 1)
        grid[top - np.rint(v0 + part * (v1 - v0)).astype(int), np.rint(c0 + part * (c1 - c0)).astype(int)] = True


def _thinned(column: IntArray, level: IntArray) -> tuple[IntArray, IntArray]:
    """Keep of each column its first, lowest, highest and last point, so that lines between columns stay true."""
    kept: list[int] = []
    starts = np.flatnonzero(np.diff(column, prepend=column[:1] - 1))
    for a, b in zip(starts.tolist(), [*starts[1:].tolist(), len(column)], strict=True):
        mine = level[a:b]
        kept += sorted({a, a + int(mine.argmin()), a + int(mine.argmax()), b - 1})
    index = np.array(kept, np.int64)
    return column[index], level[index]


def _row(dots: np.ndarray, pen: Pen) -> str:
    """One line of characters from its dots (down, columns × across)."""
    across, down = pen.dots
    cells = dots.reshape(down, -1, across)
    if not pen.braille:
        return "".join(_ASCII_CELLS[int(u) + 2 * int(v)] for u, v in zip(cells[0, :, 0], cells[1, :, 0], strict=True))
    bits = sum((cells[j, :, i].astype(int) * _BITS[i][j] for i in range(across) for j in range(down)), np.zeros(1, int))
    return "".join(chr(_BRAILLE + b) if b else " " for b in bits.tolist())


def line_picture(
    curves: Sequence[Curve],
    pen: Pen,
    labels: tuple[str, str],
    ends: tuple[str, str],
    *,
    marks: Sequence[float] = (),
    lines: int = _LINES,
) -> str:
    """Return a picture with its axes: labels of the greatest and the least value, ends of the x axis, marks below it.

    marks: x values of events, each an arrow head under its place. Points that are not finite are left out.
    """
    curves = [c for c in map(_finite, curves) if len(c.x)]
    if not curves:
        return ""
    beside = max(map(len, labels))
    columns = max(pen.width - beside - 6, 8)
    side = "┤│" if pen.braille else "+|"
    rows = []
    for i, cells in enumerate(line_cells(curves, columns, lines, pen)):
        label = labels[0] if i == 0 else labels[1] if i == lines - 1 else ""
        rows.append(f"  {label:>{beside}} {side[0] if label else side[1]}{cells}".rstrip())
    low, high = min(float(c.x[0]) for c in curves), max(float(c.x[-1]) for c in curves)
    margin = " " * (beside + 4)
    if len(marks):
        head = "▲" if pen.braille else "^"
        at = set(Scale(low, high, columns).dot(np.clip(np.asarray(marks, float), low, high)).tolist())
        rows.append((margin + "".join(head if i in at else " " for i in range(columns))).rstrip())
    gap = " " * max(columns - len(ends[0]) - len(ends[1]), 1)
    return "\n".join([*rows, margin + ends[0] + gap + ends[1]])


def _finite(curve: Curve) -> Curve:
    good = np.isfinite(curve.x) & np.isfinite(curve.y)
    return Curve(curve.x[good], curve.y[good])


def bars(rows: Sequence[tuple[str, float, str]], pen: Pen) -> str:
    """Return bars, one a line: (label, size, figure). The largest size takes all the room; below 0 there is no bar."""
    label = max(len(name) for name, _, _ in rows)
    figure = max(len(text) for _, _, text in rows)
    room = max(pen.width - label - figure - 8, 4)
    most = max(max(size for _, size, _ in rows), 0.0)
    lines = []
    for name, size, text in rows:
        eighths = round(8 * room * size / most) if most > 0.0 and size > 0.0 else 0
        lines.append(f"  {name:<{label}}  {text:>{figure}}  {_bar(eighths, pen)}".rstrip())
    return "\n".join(lines)


def _bar(eighths: int, pen: Pen) -> str:
    if not pen.braille:
        return "#" * round(eighths / 8)
    whole, part = divmod(eighths, 8)
    return _EIGHTHS[8] * whole + (_EIGHTHS[part] if part else "")
