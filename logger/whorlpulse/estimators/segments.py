"""Cut a series into pieces of constant level, at least penalised cost.

Exact optimal partitioning by dynamic programming: best[j] = min over i < j of best[i] + cost(i, j) + penalty, with cost
the weighted sum of squares about the piece's mean. A dip in the middle of a long level is found as surely as a step
(binary segmentation may miss it). Noise is read off the differences of neighbours, so that the levels don't inflate it.
Source: Jackson et al., IEEE Signal Processing Letters 12 (2005) 105 (from memory); checked against exhaustive search.
"""

from __future__ import annotations

import numpy as np

from whorlpulse.pulses import FloatArray

#: A piece more must lower -2 ln likelihood by this many times ln(n) + 3: strict, since the noise is estimated.
_PENALTY = 2.5


def level_segments(weight: FloatArray, value: FloatArray) -> list[int]:
    """Return the edges of the pieces, from 0 to n, for value (n,) with weight (n,) (for twist: metres).

    The noise variance of an entry is taken as inversely proportional to its weight. Cost grows as n².
    """
    n = len(value)
    if n < 2:
        return [0, n]
    penalty = _PENALTY * (np.log(n) + 3) * _noise(weight, value)
    w = np.concatenate(([0.0], np.cumsum(weight)))
    s = np.concatenate(([0.0], np.cumsum(weight * value)))
    best = np.zeros(n + 1)
    came_from = np.zeros(n + 1, np.int64)
    for j in range(1, n + 1):
        # The sum of squares of the values themselves is the same for every cut, so only the means' part is summed.
        cost = best[:j] - (s[j] - s[:j]) ** 2 / (w[j] - w[:j])
        came_from[j] = int(cost.argmin())
        best[j] = cost[came_from[j]] + penalty
    edges = [n]
    while edges[-1]:
        edges.append(int(came_from[edges[-1]]))
    return edges[::-1]


def _noise(weight: FloatArray, value: FloatArray) -> float:
    """Variance for unit weight, from neighbours' differences, robust against the levels' steps."""
    scaled = np.diff(value) / np.sqrt(1 / weight[:-1] + 1 / weight[1:])
    robust = 1.4826 * float(np.median(np.abs(scaled)))
    return max(robust, 1e-9 * float(np.abs(value).max()) + 1e-300) ** 2
