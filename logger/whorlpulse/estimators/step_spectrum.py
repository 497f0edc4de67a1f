"""Steps of a level in the coordinates in which every part of their noise is independent: the sine transform.

The eigenvectors of T = tridiag(−1, 2, −1), n by n, are the sines of the discrete sine transform (type I), its
eigenvalues μ_k = 2 − 2cos(πk/(n+1)); see `level_series`, which says what is made of it. Several series keep their own
coefficients; nothing but μ tells them apart. Checked against scipy's transform.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from whorlpulse.pulses import FloatArray, IntArray

ComplexArray = NDArray[np.complex128]

#: Transform coefficients beyond which those are summed first whose variances differ by less than one part in _PARTS.
_MERGE_ABOVE, _PARTS = 6_000, 250
_FOLDED = 8_192  # pairs at a time, which stay in a processor's cache


@dataclass(frozen=True)
class Steps:
    """One unbroken series: d (n,) flyer turns from each wheel passage to the next, target (n,) of the first one."""

    d: FloatArray
    target: IntArray


@dataclass(frozen=True)
class Spectrum:
    """All series in transform coordinates: mu (k,), how many coefficients each row stands for, and the products.

    cross (k, C+1, C+1): sums of z_a z_b, the last column being the data, the others the C targets' indicators.
    level: what was taken off every step before (their mean, in flyer turns), so that sums of squares tell the scatter
    and not the ratio; whoever fits the columns adds it to each of them.
    """

    mu: FloatArray
    rows: FloatArray
    cross: FloatArray
    steps: int
    level: float = 0.0

    @property
    def dof(self) -> int:
        """Steps less fitted columns."""
        return self.steps - int(self.cross.shape[1] - 1)


def spectrum(series: Sequence[Steps], targets: int) -> Spectrum | None:
    """Transform the series; None if they have no step, or a target's column is empty."""
    kept = [s for s in series if len(s.d) > 0]
    if not kept or not all(any((s.target == j).any() for s in kept) for j in range(targets)):
        return None
    steps = sum(len(s.d) for s in kept)
    level = sum(float(s.d.sum()) for s in kept) / steps
    parts = [_coefficients(s, targets, level) for s in kept]
    z = [np.concatenate(column) for column in zip(*parts, strict=True)] if len(parts) > 1 else parts[0]
    if steps <= _MERGE_ABOVE:
        return Spectrum(_eigenvalues(kept), np.ones(steps), _products(z, None), steps, level)
    if len(kept) == 1:
        first = _first_of_each(steps)
        rows = np.diff(first, append=steps)
        mu = _mean_eigenvalues(first, rows, steps)
    else:
        all_mu = _eigenvalues(kept)
        order = np.argsort(all_mu, kind="stable")
        z, all_mu = [column[order] for column in z], all_mu[order]
        label = np.floor(np.log(all_mu) * _PARTS)
        first = np.concatenate(([0], np.flatnonzero(label[1:] != label[:-1]) + 1))
        rows = np.diff(first, append=steps)
        mu = np.add.reduceat(all_mu, first) / rows
    return Spectrum(mu, rows.astype(float), _products(z, first), steps, level)


def _eigenvalues(series: Sequence[Steps]) -> FloatArray:
    """The eigenvalues μ of every series' T, one after the other."""
    return np.concatenate([4 * np.sin(0.5 * pi / (len(s.d) + 1) * np.arange(1, len(s.d) + 1)) ** 2 for s in series])


def _products(z: Sequence[FloatArray], first: IntArray | None) -> FloatArray:
    """Products of the columns z, each (n,), summed from each place in `first` to the next: (k, C+1, C+1)."""
    n = len(z[0])
    cross = np.empty((n if first is None else len(first), len(z), len(z)))
    product = np.empty(n)
    for i in range(len(z)):
        for j in range(i, len(z)):
            np.multiply(z[i], z[j], out=product)
            cross[:, i, j] = cross[:, j, i] = product if first is None else np.add.reduceat(product, first)
    return cross


def _first_of_each(n: int) -> IntArray:
    """Where rows of one series begin that are summed because ⌊_PARTS ln μ⌋ is the same: ascending, from 0.

    Which k is the first beyond a given μ follows from μ = 4sin²(πk/(2(n+1))).
    """
    lowest = 2 * np.log(2 * np.sin(0.5 * pi / (n + 1)))
    edges = np.arange(np.floor(lowest * _PARTS) + 1, np.ceil(np.log(4) * _PARTS)) / _PARTS
    first = np.ceil(2 * (n + 1) / pi * np.arcsin(np.minimum(0.5 * np.exp(0.5 * edges), 1.0))).astype(np.int64) - 1
    new = np.concatenate(([True], first[1:] != first[:-1])) & (first > 0) & (first < n)
    return np.concatenate((np.zeros(1, np.int64), first[new]))


def _mean_eigenvalues(first: IntArray, rows: IntArray, n: int) -> FloatArray:
    """The mean μ of rows k = first + 1 … first + rows of one series, by the sum of cosines in arithmetic progression.

    With θ = π/(n+1), m rows about the middle angle φ and D = sin(mθ/2)/(m sin(θ/2)) it is 2(1 − D) + 2D(1 − cos φ).
    """
    half = 0.5 * pi / (n + 1)
    d = np.sin(rows * half) / (rows * np.sin(half))
    mean: FloatArray = 2 * (1 - d) + 4 * d * np.sin(half * (first + 0.5 * (rows + 1))) ** 2
    return mean


def _coefficients(steps: Steps, targets: int, level: float) -> list[FloatArray]:
    """The transforms of the targets' indicators and of the data less `level`: C+1 columns, each (n,).

    Means are taken off before the transform and put back in closed form: they would drown the rest in rounding.
    """
    data, constant = _sine_transform(steps.d, level), _constant(len(steps.d))
    if targets == 1:
        return [constant, data]
    share = 1.0 / targets
    indicators = ((steps.target == j).astype(float) for j in range(targets))
    return [*(_sine_transform(x, share) + share * constant for x in indicators), data]


def _half_circle(n: int) -> ComplexArray:
    """e^{iπj/(n+1)} for j = 0 … ⌊(n+1)/2⌋, from products of few: a tenth of what the sines and cosines would take."""
    count = (n + 1) // 2 + 1
    fine = int(np.ceil(np.sqrt(count)))
    step = 1j * pi / (n + 1)
    turn: ComplexArray = np.exp(step * fine * np.arange(-(-count // fine)))[:, None] * np.exp(step * np.arange(fine))
    return turn.reshape(-1)[:count]


def _constant(n: int) -> FloatArray:
    """The transform of n ones: the sum of sin(πjk/(n+1)) over j is cot(πk/(2(n+1))) for odd k, else 0."""
    turn = _half_circle(n)
    tangent = 1 + turn.real
    np.divide(turn.imag, tangent, out=tangent)  # tan(πj/(2(n+1)))
    lower = 2 * (len(turn) // 2)  # coefficients up to the middle; beyond it cot x = tan(π/2 − x)
    z = np.zeros(n)
    np.divide(1.0, tangent[1::2], out=z[:lower:2])
    z[lower::2] = tangent[n - lower : 0 : -2]
    z *= np.sqrt(2 / (n + 1))
    return z


def _sine_transform(x: FloatArray, mean: float = 0.0) -> FloatArray:
    """Orthonormal DST-I of x less its mean (n,), by a real FFT of N = n + 1 points (Cooley, Lewis and Welch 1970).

    With y_j = sin(πj/N)(x_j + x_{N−j}) + (x_j − x_{N−j})/2 the FFT's sines of y are the even coefficients F_{2k}, its
    cosines the differences F_{2k+1} − F_{2k−1}, where F_{−1} = −F_1 (from memory; held against scipy's transform).
    Adding these up costs some digits of the largest coefficient, so x should have no mean.
    """
    n = len(x)
    f = np.fft.rfft(_folded(x, mean))  # what it was made of is given back by now: new memory costs as much as the FFT
    f[0] *= 0.5
    f *= np.sqrt(2 / (n + 1))
    z = np.empty(n)
    np.cumsum(f.real[: (n + 1) // 2], out=z[::2])
    np.negative(f.imag[1 : n // 2 + 1], out=z[1::2])
    return z


def _folded(x: FloatArray, mean: float) -> FloatArray:
    """The y of `_sine_transform`, (n+1,)."""
    sine, pairs = _half_circle(len(x)).imag[1:], len(x) // 2
    y = np.zeros(len(x) + 1)
    np.subtract(x, mean, out=y[1:])
    for i in range(1, pairs + 1, _FOLDED):
        here, there = y[i : min(i + _FOLDED, pairs + 1)], y[::-1][i - 1 : min(i + _FOLDED, pairs + 1) - 1]
        even, odd = sine[i - 1 : i - 1 + len(here)] * (here + there), 0.5 * (here - there)
        np.add(even, odd, out=here)
        np.subtract(even, odd, out=there)
    if len(x) % 2:  # the one in the middle is its own pair
        y[pairs + 1] *= 2
    return y
