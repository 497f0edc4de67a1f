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
from math import erf, exp, inf, pi, sqrt

import numpy as np

from whorlpulse.estimators.measured import Measured, coverage_factor
from whorlpulse.pulses import FloatArray, IntArray

_GRID = 33
_SOFT_END = 0.1  # decades
_MOST_STEPS = 60
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

    def log_weight(self, sigma2: FloatArray, lam: FloatArray) -> FloatArray:
        """Log of the prior density of the sensor's own part of sigma2 (m,), for each lam (m,), but for a constant."""
        own = np.maximum(sigma2 * (1 - lam * self.unseen), self.least)
        decades = 0.5 * np.log10(own / self.likely) / self.width
        beyond = np.maximum(0.5 * np.log10(own / self.most), 0.0) / _SOFT_END
        weight: FloatArray = -0.5 * (decades**2 + beyond**2)
        return weight


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
class _Fits:
    """For candidates λ (m,): log likelihood, σ², the drift r̂ and var(r̂)/σ², each (m,)."""

    log_likelihood: FloatArray
    sigma2: FloatArray
    drift: FloatArray
    unit_variance: FloatArray


def _fits(data: Spectrum, lam: FloatArray, least_sigma2: float) -> _Fits:
    columns = data.cross.shape[1]
    g = lam[:, None] + data.mu
    sums = ((1.0 / g) @ data.cross.reshape(len(data.mu), -1)).reshape(-1, columns, columns)
    normal, right, total = sums[:, :-1, :-1], sums[:, :-1, -1:], sums[:, -1, -1]
    solved = np.linalg.solve(normal, np.concatenate((right, np.ones_like(right)), axis=2))
    rss = np.maximum(total - (right[:, :, 0] * solved[:, :, 0]).sum(axis=1), 0.0)
    dof = max(data.dof, 1)
    sigma2 = np.maximum(rss / dof, max(least_sigma2, 1e-30))
    _, log_det = np.linalg.slogdet(normal)
    log_likelihood = -0.5 * (np.log(g) @ data.rows + log_det + dof * np.log(sigma2) + rss / sigma2)
    return _Fits(log_likelihood, sigma2, solved[:, :, 0].sum(axis=1), solved[:, :, 1].sum(axis=1))


def noise_mix(data: Spectrum, timing: TimingPrior) -> NoiseMix:
    """What `data` and the sensor tell of λ."""
    low, high = np.log(_LEAST_LAMBDA), np.log(timing.most_lam)
    for _ in range(6):
        ln_lam = np.linspace(low, high, _GRID)
        lam = np.exp(ln_lam)
        fits = _fits(data, lam, timing.least)
        likelihood = fits.log_likelihood + timing.log_weight(fits.sigma2, lam)
        best = int(likelihood.argmax())
        likely = np.flatnonzero(likelihood > likelihood[best] - 12)
        if len(likely) > _GRID // 3:
            break
        low, high = ln_lam[max(likely[0] - 1, 0)], ln_lam[min(likely[-1] + 1, _GRID - 1)]
    weight = np.exp(likelihood - likelihood[best])
    return NoiseMix(lam, weight / weight.sum(), fits.sigma2, max(data.dof, 1))


@dataclass(frozen=True)
class Drift:
    """made: the ratio really made over these steps. expected: what another run of as many steps would make.

    The forecast adds to the drift's own variance that of the other run's slip, q² over its turns.
    """

    made: Measured
    expected: Measured


def drift(data: Spectrum, mix: NoiseMix, targets: int) -> Drift:
    """Estimate the drift per wheel turn of the steps in `data`, averaged over the noise mix."""
    fits = _fits(data, mix.lam, 0.0)
    slip = mix.lam * targets * targets / data.steps
    made = mix.sigma2 * np.maximum(fits.unit_variance - slip, 0.0)
    expected = mix.sigma2 * (fits.unit_variance + slip)
    return Drift(_averaged(fits.drift, made, mix), _averaged(fits.drift, expected, mix))


def _averaged(centre: FloatArray, variance: FloatArray, mix: NoiseMix) -> Measured:
    """The mixture of normal distributions over the candidates as one value whose 95 % interval is the mixture's.

    The interval is widened to Student's t for the degrees of freedom behind σ².
    """
    mean = float(mix.weight @ centre)
    kept = mix.weight > 1e-6
    offset, sd, weight = centre[kept] - mean, np.sqrt(np.maximum(variance[kept], 1e-300)), mix.weight[kept]
    half = 1.96 * float(np.sqrt(weight @ (sd**2 + offset**2) / weight.sum()))
    parts = list(zip(weight.tolist(), offset.tolist(), sd.tolist(), strict=True))
    for _ in range(_MOST_STEPS):
        inside, density = 0.0, 0.0
        for w, m, s in parts:
            below, above = (half - m) / s, (half + m) / s
            inside += 0.5 * w * (erf(below / sqrt(2)) + erf(above / sqrt(2)))
            density += w * (exp(-0.5 * below**2) + exp(-0.5 * above**2)) / (s * sqrt(2 * pi))
        step = (inside - 0.95 * float(weight.sum())) / max(density, 1e-300)
        # Newton's method, held between half and double: the distribution function is steep near 0 and flat far out.
        half = min(max(half - step, 0.5 * half), 2.0 * half)
        if abs(step) <= 1e-12 * half:
            break
    return Measured(mean, half / coverage_factor(inf), mix.dof)
