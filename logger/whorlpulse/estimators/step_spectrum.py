"""Steps of a level in the coordinates in which every part of their noise is independent: the sine transform.

The eigenvectors of T = tridiag(−1, 2, −1), n by n, are the sines of the discrete sine transform (type I), its
eigenvalues μ_k = 2 − 2cos(πk/(n+1)); see `level_series`, which says what is made of it. Several series keep their own
coefficients; nothing but μ tells them apart. Checked against scipy's transform.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from whorlpulse.pulses import FloatArray, IntArray

_MERGE_ABOVE = 6_000  # transform coefficients; beyond this, those of nearly equal variance are summed first


@dataclass(frozen=True)
class Steps:
    """One unbroken series: d (n,) flyer turns from each wheel passage to the next, target (n,) of the first one."""

    d: FloatArray
    target: IntArray


@dataclass(frozen=True)
class Spectrum:
    """All series in transform coordinates: mu (k,), how many coefficients each row stands for, and the products.

    cross (k, C+1, C+1): sums of z_a z_b, the last column being the data, the others the C targets' indicators.
    """

    mu: FloatArray
    rows: FloatArray
    cross: FloatArray
    steps: int

    @property
    def dof(self) -> int:
        """Steps less fitted columns."""
        return self.steps - int(self.cross.shape[1] - 1)


def spectrum(series: Sequence[Steps], targets: int) -> Spectrum | None:
    """Transform the series; None if they have no step, or a target's column is empty."""
    kept = [s for s in series if len(s.d) > 0]
    if not kept or not all(any((s.target == j).any() for s in kept) for j in range(targets)):
        return None
    mu = np.concatenate([2 - 2 * np.cos(np.pi / (len(s.d) + 1) * np.arange(1, len(s.d) + 1)) for s in kept])
    parts = [_coefficients(s, targets) for s in kept]
    z = np.concatenate(parts, axis=1) if len(parts) > 1 else parts[0]
    steps, first = len(mu), None
    if steps > _MERGE_ABOVE:
        if len(kept) > 1:  # one series' own are ascending
            order = np.argsort(mu, kind="stable")
            mu, z = mu[order], z[:, order]
        first = _together(mu)
    rows = np.ones(steps) if first is None else np.diff(np.append(first, steps)).astype(float)
    cross = np.empty((len(rows), targets + 1, targets + 1))
    for i in range(targets + 1):
        for j in range(i, targets + 1):
            product = z[i] * z[j]
            cross[:, i, j] = cross[:, j, i] = product if first is None else np.add.reduceat(product, first)
    return Spectrum(mu if first is None else np.add.reduceat(mu, first) / rows, rows, cross, steps)


def _coefficients(steps: Steps, targets: int) -> FloatArray:
    """The transforms of the targets' indicators and of the data: (C+1, n)."""
    n = len(steps.d)
    if targets > 1:
        columns = np.zeros((targets + 1, n))
        columns[steps.target, np.arange(n)] = 1.0
        columns[-1] = steps.d
        return _sine_transform(columns.T).T
    # The indicator of the only target is 1 throughout; the sum of sin(πjk/(n+1)) over j is cot(πk/(2(n+1))) for odd k,
    # else 0.
    z = np.zeros((2, n))
    z[0, ::2] = np.sqrt(2 / (n + 1)) / np.tan(0.5 * np.pi / (n + 1) * np.arange(1, n + 1, 2))
    z[1] = _sine_transform(steps.d)
    return z


def _sine_transform(x: FloatArray) -> FloatArray:
    """Orthonormal DST-I of the columns of x (n, c), or of x (n,), by an FFT of the odd extension."""
    n, rows = x.shape[0], x.T
    odd = np.zeros((*rows.shape[:-1], 2 * (n + 1)))
    odd[..., 1 : n + 1] = rows
    np.negative(rows[..., ::-1], out=odd[..., n + 2 :])
    transformed: FloatArray = np.fft.rfft(odd).imag[..., 1 : n + 1] * -np.sqrt(0.5 / (n + 1))
    return transformed.T


def _together(mu: FloatArray) -> IntArray:
    """Where rows begin that are summed because their mu (n,), ascending, differ by less than one part in 250."""
    label = np.floor(np.log(mu) * 250)
    return np.concatenate(([0], np.flatnonzero(label[1:] != label[:-1]) + 1))
