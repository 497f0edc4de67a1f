"""Waits between neighbouring pulses of a whole log, looked at block by block.

An array of differences as long as the log, and one for each step made of it, would have to be fetched from memory and
cleared by the system every time; in blocks that stay in the cache a pulse costs the same however long the log is.
All results are those of the plain numpy expressions, to the last bit.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from whorlpulse.pulses import FloatArray, IntArray

_BLOCK = 16_384
#: Fewer values than this are handed to numpy as they are.
_PLAIN = 1 << 17
#: So many waits, evenly picked, say between which two the median must lie.
_SAMPLE = 4096

Rising = npt.NDArray[Any]  # float64 or int64


def wait_blocks(t: Rising) -> Iterator[tuple[int, Rising]]:
    """Yield t[i+1] - t[i] of t (n,) in blocks, each with the number of its first wait."""
    for start in range(0, len(t) - 1, _BLOCK):
        piece = t[start : start + _BLOCK + 1]
        yield start, piece[1:] - piece[:-1]


def median_wait(t: Rising) -> float:
    """Return np.median(np.diff(t)) of t (n,), n >= 2.

    A sample says between which values the median lies; only these are sorted. If the sample was no fair one, all are.
    """
    n = len(t) - 1
    if n < _PLAIN:
        return float(np.median(np.diff(t)))
    picked = np.arange(0, n, n // _SAMPLE)
    sample = np.sort(t[picked + 1] - t[picked])
    low, high = sample[int(0.45 * len(sample))], sample[int(0.55 * len(sample))]
    below, kept = 0, []
    for _, wait in wait_blocks(t):
        below += int(np.count_nonzero(wait < low))
        kept.append(wait[(wait >= low) & (wait <= high)])
    near = np.concatenate(kept)
    lower, upper = (n - 1) // 2 - below, n // 2 - below
    if lower < 0 or upper >= len(near):
        return float(np.median(np.diff(t)))
    near.partition((lower, upper))
    return float(0.5 * (near[lower] + near[upper]))


def waits_above(t: Rising, limit: float) -> IntArray:
    """Return the numbers (k,) of the waits of t (n,) that are longer than limit."""
    found = [start + np.flatnonzero(wait > limit) for start, wait in wait_blocks(t)]
    return np.concatenate(found) if found else np.empty(0, np.int64)


def odd_waits(t: Rising, usual: FloatArray, longer: float, shorter: float) -> IntArray:
    """Return the numbers (k,) of the waits of t (n,) above `longer` or below `shorter` parts of usual (n-1,)."""
    found = []
    for start, wait in wait_blocks(t):
        here = usual[start : start + len(wait)]
        found.append(start + np.flatnonzero((wait > longer * here) | (wait < shorter * here)))
    return np.concatenate(found) if found else np.empty(0, np.int64)


def rises(x: Rising) -> bool:
    """Tell whether every value of x (n,) is above the one before."""
    return all(bool((wait > 0).all()) for _, wait in wait_blocks(x))
