"""The running median of nine, the yardstick for "the interval just here".

Nine intervals span about one turn of the wheel, so a treadled speed ripple averages out, and four wrong
intervals in nine cannot move it far.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from whorlpulse.pulses import FloatArray

_HALF = 4
_BLOCK = 8_192  # values at a time: the dozen temporaries stay in the cache


def running_median_9(values: FloatArray) -> FloatArray:
    """Return the median of the nine values around each value.

    Within four of either end: the outermost nine's, or that of the nearest five where it is larger, because a shaft
    that starts up or runs down should be judged by its neighbours, not by its cruising speed.
    values (n,) any unit -> (n,) the same unit. Fewer than nine values: their plain median everywhere.
    Median of nine from three sorted triples: the median of (largest minimum, middle median, smallest
    maximum); the triples are shared by overlapping windows.
    """
    n = len(values)
    if n < 2 * _HALF + 1:
        return np.full(n, np.median(values)) if n else np.empty(0)
    out = np.empty(n)
    for start, stop in _pieces(n):
        first, last = max(start - _HALF, 0), min(stop + _HALF, n)
        _fill(out[start:stop], values[first:last], at_start=first == 0, at_end=last == n)
    return out


def running_waits(x: FloatArray) -> Iterator[tuple[int, FloatArray, FloatArray]]:
    """Yield the waits x[i+1] - x[i] of x (n,) and their running medians in blocks, with the first wait's number.

    All blocks together are np.diff(x) and running_median_9(np.diff(x)); nothing as long as x is made.
    """
    n = len(x) - 1
    if n < 2 * _HALF + 1:
        if n > 0:
            yield 0, np.diff(x), running_median_9(np.diff(x))
        return
    for start, stop in _pieces(n):
        first, last = max(start - _HALF, 0), min(stop + _HALF, n)
        wait = x[first + 1 : last + 1] - x[first:last]
        usual = np.empty(stop - start)
        _fill(usual, wait, at_start=first == 0, at_end=last == n)
        yield start, wait[start - first : stop - first], usual


def running_median_of_waits(x: FloatArray) -> FloatArray:
    """Return running_median_9(np.diff(x)) of x (n,): (n-1,)."""
    out = np.empty(max(len(x) - 1, 0))
    for start, _, usual in running_waits(x):
        out[start : start + len(usual)] = usual
    return out


def median_of(few: list[float]) -> float:
    """Return the median of a few values, as np.median does, in a twentieth of its time."""
    ordered, middle = sorted(few), len(few) // 2
    return ordered[middle] if len(few) % 2 else 0.5 * (ordered[middle - 1] + ordered[middle])


def _pieces(n: int) -> Iterator[tuple[int, int]]:
    """Cut n values into blocks; the last one is never shorter than what its end is judged by."""
    start = 0
    while start < n:
        stop = start + _BLOCK if n - start >= _BLOCK + 2 * _HALF + 1 else n
        yield start, stop
        start = stop


def _fill(out: FloatArray, values: FloatArray, *, at_start: bool, at_end: bool) -> None:
    """Write to out (m,) the medians around values that have four more on each side, but for the log's start and end."""
    before = _HALF if at_start else 0
    out[before : len(out) - (_HALF if at_end else 0)] = _medians(values)
    # Plain lists: a log has many short stretches, and each of these medians is of five values at most.
    if at_start:
        first = values[: _HALF + 2].tolist()
        for i in range(_HALF):
            out[i] = max(out[_HALF], median_of(first[max(i - 2, 0) : i + 3]))
    if at_end:
        last = values[: -_HALF - 3 : -1].tolist()
        for i in range(_HALF):
            out[-1 - i] = max(out[-1 - _HALF], median_of(last[max(i - 2, 0) : i + 3]))


def _medians(x: FloatArray) -> FloatArray:
    a, b, c = x[:-2], x[1:-1], x[2:]
    low2, high2 = np.minimum(a, b), np.maximum(a, b)
    low, high = np.minimum(low2, c), np.maximum(high2, c)
    middle = np.maximum(low2, np.minimum(high2, c))
    m = len(x) - 2 * _HALF
    largest_low = np.maximum(np.maximum(low[:m], low[3 : 3 + m]), low[6 : 6 + m])
    smallest_high = np.minimum(np.minimum(high[:m], high[3 : 3 + m]), high[6 : 6 + m])
    centre = _median_of_three(middle[:m], middle[3 : 3 + m], middle[6 : 6 + m])
    return _median_of_three(largest_low, centre, smallest_high)


def _median_of_three(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    return np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))
