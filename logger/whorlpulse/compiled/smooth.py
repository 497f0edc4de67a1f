"""Running medians of nine and the monotone cubic, block by block; see `conditioning.running_median`, `interpolate`."""

from __future__ import annotations

from typing import Any

import numpy.typing as npt

from whorlpulse.pulses import FloatArray

Table = npt.NDArray[Any]


def medians_of_nine(x: FloatArray, out: FloatArray, work: Table) -> None:
    """Write to out (n-8,) the median of each nine neighbours in x (n,); work (3, at least n): room to work in."""
    n = len(x) - 2
    low, middle, high = work[0], work[1], work[2]
    for i in range(n):
        a, b, c = x[i], x[i + 1], x[i + 2]
        low2, high2 = min(a, b), max(a, b)
        low[i] = min(low2, c)
        high[i] = max(high2, c)
        middle[i] = max(low2, min(high2, c))
    for i in range(n - 6):
        largest = max(max(low[i], low[i + 3]), low[i + 6])
        smallest = min(min(high[i], high[i + 3]), high[i + 6])
        a, b, c = middle[i], middle[i + 3], middle[i + 6]
        centre = max(min(a, b), min(max(a, b), c))
        out[i] = max(min(largest, centre), min(max(largest, centre), smallest))


def curve(
    x: FloatArray, y: FloatArray, first: int, last: int, sweeps: int, at: FloatArray, out: FloatArray, work: Table
) -> None:
    """Write to out (m,) the monotone cubic through the knots x (n,), y (n,), at least three, at the places at (m,).

    at: not falling, each between the knots first and last. sweeps: of Jacobi's method for the slopes. work (7, at least
    n): room to work in.
    """
    n = len(x)
    width, chord, left, right, slope, other, parabola = work[0], work[1], work[2], work[3], work[4], work[5], work[6]
    for i in range(n - 1):
        width[i] = x[i + 1] - x[i]
        chord[i] = (y[i + 1] - y[i]) / width[i]
    for i in range(1, n - 1):
        both = width[i - 1] + width[i]
        left[i] = width[i - 1] / both
        right[i] = width[i] / both
        slope[i] = right[i] * chord[i - 1] + left[i] * chord[i]
    slope[0] = 2 * chord[0] - slope[1]
    slope[n - 1] = 2 * chord[n - 2] - slope[n - 2]
    other[0], other[n - 1] = slope[0], slope[n - 1]
    old, new = slope, other
    for i in range(1, n - 1):
        parabola[i] = slope[i] * 1.5
        left[i] *= 0.5
        right[i] *= 0.5
    for _ in range(sweeps):
        for i in range(1, n - 1):
            new[i] = parabola[i] - (right[i] * old[i - 1] + left[i] * old[i + 1])
        old, new = new, old
    for i in range(1, n - 1):
        old[i] = min(max(old[i], 0.0), 3 * min(chord[i - 1], chord[i]))
    old[0] = min(max(old[0], 0.0), 3 * chord[0])
    old[n - 1] = min(max(old[n - 1], 0.0), 3 * chord[n - 2])
    knot = first
    for j in range(len(at)):
        place = at[j]
        while knot < last - 1 and x[knot + 1] <= place:
            knot += 1
        rise = y[knot + 1] - y[knot]
        s = (place - x[knot]) / width[knot]
        m0, m1 = old[knot] * width[knot], old[knot + 1] * width[knot]
        out[j] = y[knot] + s * (m0 + s * (3 * rise - 2 * m0 - m1 + s * (m0 + m1 - 2 * rise)))
