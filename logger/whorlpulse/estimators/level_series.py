"""The mean step of a level that drifts, seen through noise: generalised least squares with unknown noise mix.

Model, for one unbroken series of n steps d_i between n+1 passages of the wheel's targets:

    d_i = c_j(i) + ξ_i + e_{i+1} − e_i,     ξ ~ (0, q²),  e ~ (0, σ²)

c_j is the flyer's advance from wheel target j to the next, so Σ_j c_j = r, the ratio; ξ is slip noise, e timing.
Cov d = σ²(λI + T), λ = q²/σ², T = tridiag(−1, 2, −1). T's eigenvectors are the sines of the discrete sine transform
(type I) with eigenvalues μ_k = 2 − 2cos(πk/(n+1)), so in the transform's coordinates every term is independent with
variance σ²(λ + μ_k): the exact likelihood for any λ is one pass, however the series are cut into pieces.

The sum of the least-squares residuals, weighted by V⁻¹, vanishes in every column's direction; so the estimate of the
drift r is at once the best linear unbiased prediction of the ratio really made, (x_N − x_0)/N, and that prediction's
error variance is var(r̂) − var(Σξ)/N². With q = 0 it is 12σ²/(N(N+1)(N+2)); with σ = 0 it is 0.

λ is not estimated and then believed: σ² is profiled out by restricted likelihood (REML) and the estimate is averaged
over λ (uniform in ln λ over the range that the data can tell apart), so that the interval includes not knowing it.
The series alone would take any wavering of the level for timing noise and smooth it away, so what the sensor itself
shows of its timing (`TimingPrior`) is multiplied in.
Checked against a dense GLS solution, statsmodels' local level model, and simulated coverage.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import erf, inf, sqrt

import numpy as np

from whorlpulse.estimators.measured import Measured, coverage_factor
from whorlpulse.pulses import FloatArray, IntArray

_GRID = 33
_SOFT_END = 0.1  # decades
_LEAST_LAMBDA = 1e-7
_MERGE_ABOVE = 6_000  # transform coefficients; beyond this, those of nearly equal variance are summed first


@dataclass(frozen=True)
class Steps:
    """One unbroken series: d (n,) flyer turns from each wheel passage to the next, target (n,) of the first one."""

    d: FloatArray
    target: IntArray


@dataclass(frozen=True)
class TimingPrior:
    """What is known of σ² (flyer turns squared) from the sensor.

    least: the clock's tick alone. likely: centre, `width` decades in σ wide. most: soft upper end, from the flyer's
    pulses. unseen: what part of q² comes on top, because slip between two flyer pulses isn't seen: a random walk pinned
    at both ends has a mean variance of a sixth of its step's (Brownian bridge, ∫u(1−u)du), so 1/(6m) with m flyer
    pulses a step.
    """

    least: float
    likely: float
    width: float
    most: float
    unseen: float

    @property
    def most_lam(self) -> float:
        """λ can't exceed 1/unseen."""
        return 0.99 / self.unseen

    def log_weight(self, sigma2: float, lam: float) -> float:
        """Log of the prior density of the sensor's own part of sigma2, but for a constant."""
        own = max(sigma2 * (1 - lam * self.unseen), self.least)
        decades = 0.5 * np.log10(own / self.likely) / self.width
        beyond = max(0.5 * np.log10(own / self.most), 0.0) / _SOFT_END
        return float(-0.5 * (decades**2 + beyond**2))


@dataclass(frozen=True)
class NoiseMix:
    """What the series say about the noise: candidates lam (m,), each one's weight (m,), variance sigma2 (m,), dof."""

    lam: FloatArray
    weight: FloatArray
    sigma2: FloatArray
    dof: float


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
    if not kept:
        return None
    mus, crosses = [], []
    for s in kept:
        columns = np.zeros((len(s.d), targets + 1))
        columns[np.arange(len(s.d)), s.target] = 1.0
        columns[:, -1] = s.d
        z = _sine_transform(columns)
        mus.append(2 - 2 * np.cos(np.pi * np.arange(1, len(s.d) + 1) / (len(s.d) + 1)))
        crosses.append(z[:, :, None] * z[:, None, :])
    mu, cross = np.concatenate(mus), np.concatenate(crosses)
    steps = len(mu)
    if not all(any((s.target == j).any() for s in kept) for j in range(targets)):
        return None
    rows = np.ones(steps)
    if steps > _MERGE_ABOVE:
        mu, rows, cross = _merged(mu, cross)
    return Spectrum(mu, rows, cross, steps)


def _sine_transform(x: FloatArray) -> FloatArray:
    """Orthonormal DST-I of the columns of x (n, c), by an FFT of the odd extension."""
    n = x.shape[0]
    odd = np.zeros((2 * (n + 1), x.shape[1]))
    odd[1 : n + 1] = x
    odd[n + 2 :] = -x[::-1]
    transformed: FloatArray = -np.fft.rfft(odd, axis=0).imag[1 : n + 1] * np.sqrt(0.5 / (n + 1))
    return transformed


def _merged(mu: FloatArray, cross: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Sum neighbouring rows whose mu differ by less than one part in 250."""
    order = np.argsort(mu, kind="stable")
    mu, cross = mu[order], cross[order]
    label = np.floor(np.log(mu) * 250)
    first = np.concatenate(([0], np.flatnonzero(np.diff(label)) + 1))
    rows = np.diff(np.append(first, len(mu))).astype(float)
    return np.add.reduceat(mu, first) / rows, rows, np.add.reduceat(cross, first, axis=0)


@dataclass(frozen=True)
class _Fit:
    """One candidate λ: log likelihood, σ², the drift r̂ and var(r̂)/σ²."""

    log_likelihood: float
    sigma2: float
    drift: float
    unit_variance: float


def _fit(data: Spectrum, lam: float, least_sigma2: float) -> _Fit:
    g = lam + data.mu
    sums = np.tensordot(1.0 / g, data.cross, axes=1)
    normal, right, total = sums[:-1, :-1], sums[:-1, -1], sums[-1, -1]
    c = np.linalg.solve(normal, right)
    rss = max(float(total - right @ c), 0.0)
    dof = max(data.dof, 1)
    sigma2 = max(rss / dof, least_sigma2, 1e-30)
    _, log_det = np.linalg.slogdet(normal)
    log_likelihood = -0.5 * (data.rows @ np.log(g) + log_det + dof * np.log(sigma2) + rss / sigma2)
    ones = np.ones(len(c))
    return _Fit(float(log_likelihood), sigma2, float(c.sum()), float(ones @ np.linalg.solve(normal, ones)))


def noise_mix(data: Spectrum, timing: TimingPrior) -> NoiseMix:
    """What `data` and the sensor tell of λ."""
    low, high = np.log(_LEAST_LAMBDA), np.log(timing.most_lam)
    for _ in range(6):
        ln_lam = np.linspace(low, high, _GRID)
        fits = [_fit(data, float(np.exp(x)), timing.least) for x in ln_lam]
        likelihood = np.array(
            [
                f.log_likelihood + timing.log_weight(f.sigma2, float(np.exp(x)))
                for f, x in zip(fits, ln_lam, strict=True)
            ]
        )
        best = int(likelihood.argmax())
        likely = np.flatnonzero(likelihood > likelihood[best] - 12)
        if len(likely) > _GRID // 3:
            break
        low, high = ln_lam[max(likely[0] - 1, 0)], ln_lam[min(likely[-1] + 1, _GRID - 1)]
    weight = np.exp(likelihood - likelihood[best])
    return NoiseMix(np.exp(ln_lam), weight / weight.sum(), np.array([f.sigma2 for f in fits]), max(data.dof, 1))


@dataclass(frozen=True)
class Drift:
    """made: the ratio really made over these steps. expected: what another run of as many steps would make.

    The forecast adds to the drift's own variance that of the other run's slip, q² over its turns.
    """

    made: Measured
    expected: Measured


def drift(data: Spectrum, mix: NoiseMix, targets: int) -> Drift:
    """Estimate the drift per wheel turn of the steps in `data`, averaged over the noise mix."""
    value, made, expected = [], [], []
    turns2_per_step = targets * targets / data.steps
    for lam, sigma2 in zip(mix.lam, mix.sigma2, strict=True):
        fit = _fit(data, float(lam), float(sigma2))
        value.append(fit.drift)
        expected.append(sigma2 * (fit.unit_variance + lam * turns2_per_step))
        made.append(max(sigma2 * (fit.unit_variance - lam * turns2_per_step), 0.0))
    centre = np.array(value)
    return Drift(_averaged(centre, np.array(made), mix), _averaged(centre, np.array(expected), mix))


def _averaged(centre: FloatArray, variance: FloatArray, mix: NoiseMix) -> Measured:
    """The mixture of normal distributions over the candidates as one value whose 95 % interval is the mixture's.

    The interval is widened to Student's t for the degrees of freedom behind σ².
    """
    mean = float(mix.weight @ centre)
    kept = mix.weight > 1e-6
    offset, sd, weight = centre[kept] - mean, np.sqrt(np.maximum(variance[kept], 1e-300)), mix.weight[kept]
    low, high = 0.0, 1.96 * float(sd.max()) + float(np.abs(offset).max())
    for _ in range(40):
        half = 0.5 * (low + high)
        inside = sum(
            w * 0.5 * (erf((half - m) / (s * sqrt(2))) + erf((half + m) / (s * sqrt(2))))
            for w, m, s in zip(weight.tolist(), offset.tolist(), sd.tolist(), strict=True)
        )
        low, high = (half, high) if inside < 0.95 * weight.sum() else (low, half)
    return Measured(mean, high / coverage_factor(inf), mix.dof)
