"""Fewer points for long series without loss of what the eye looks for: each bucket keeps its lowest and highest."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from whorlpulse.pulses import FloatArray, IntArray

#: Points that a line may have: two for each dot of its width.
MOST_POINTS = 1200
_FEWEST_EACH = 4


def thinned(y: FloatArray, most: int = MOST_POINTS, keep: Sequence[int] = ()) -> IntArray:
    """Return ascending indices of y (n,) to draw: all when n <= most, else at most `most` beside those to keep.

    Buckets of equal numbers of points keep their minimum and their maximum; the first and the last point stay, and so
    do the indices in `keep`. So minima and maxima of the whole and of every bucket survive.
    """
    n = len(y)
    if n <= most:
        return np.arange(n)
    buckets = max((most - 2) // 2, 1)
    edges = np.linspace(0, n, buckets + 1).astype(int)
    kept = {0, n - 1, *keep}
    for i, j in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        if j > i:
            kept.add(i + int(np.argmin(y[i:j])))
            kept.add(i + int(np.argmax(y[i:j])))
    return np.array(sorted(kept), np.int64)


def joined(pieces: Sequence[tuple[FloatArray, FloatArray]], most: int = MOST_POINTS) -> list[dict[str, float | None]]:
    """Return pieces of one line, x (n,) and y (n,) each, thinned, as rows x and y; a row without y parts two pieces.

    Each piece has its share of `most` points, but at least its ends and its extremes; very many pieces become one.
    """
    if len(pieces) > most // _FEWEST_EACH:  # gaps narrower than a dot can't be seen
        x, y = (np.concatenate(part) for part in zip(*pieces, strict=True))
        pieces = [(x, y)]
    total = max(sum(len(x) for x, _ in pieces), 1)
    rows: list[dict[str, float | None]] = []
    for x, y in pieces:
        kept = thinned(y, max(most * len(y) // total, _FEWEST_EACH))
        if rows:
            rows.append({"x": float(x[0]), "y": None})
        rows += [{"x": a, "y": b} for a, b in zip(x[kept].tolist(), y[kept].tolist(), strict=True)]
    return rows


def largest(x: FloatArray, size: FloatArray, most: int) -> IntArray:
    """Return ascending indices of at most `most` events at x (n,): the largest of each part of the span of x."""
    n = len(x)
    if n <= most:
        return np.arange(n)
    low, high = float(x.min()), float(x.max())
    part = np.minimum(((x - low) / max(high - low, 1e-12) * most).astype(int), most - 1)
    order = np.argsort(-size, kind="stable")
    _, first = np.unique(part[order], return_index=True)
    kept: IntArray = np.sort(order[first])
    return kept
