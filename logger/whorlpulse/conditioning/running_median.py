"""The running median of nine, the yardstick for "the interval just here".

Nine intervals span about one turn of the wheel, so a treadled speed ripple averages out, and four wrong
intervals in nine cannot move it far.
"""

from __future__ import annotations

import numpy as np

from whorlpulse.pulses import FloatArray

_HALF = 4
_BLOCK = 32_768  # values at a time: the dozen temporaries stay in the cache


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
    inner = n - 2 * _HALF
    for start in range(0, inner, _BLOCK):
        stop = min(start + _BLOCK, inner)
        out[start + _HALF : stop + _HALF] = _medians(values[start : stop + 2 * _HALF])
    # Plain lists: a log has many short stretches, and each of these medians is of five values at most.
    first, last = values[: _HALF + 2].tolist(), values[: -_HALF - 3 : -1].tolist()
    for i in range(_HALF):
        out[i] = max(out[_HALF], median_of(first[max(i - 2, 0) : i + 3]))
        out[n - 1 - i] = max(out[n - 1 - _HALF], median_of(last[max(i - 2, 0) : i + 3]))
    return out


def median_of(few: list[float]) -> float:
    """Return the median of a few values, as np.median does, in a twentieth of its time."""
    ordered, middle = sorted(few), len(few) // 2
    return ordered[middle] if len(few) % 2 else 0.5 * (ordered[middle - 1] + ordered[middle])


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
