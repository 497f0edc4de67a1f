"""The mean step of a level that drifts, seen through noise: generalised least squares with unknown noise mix.

Model, for one unbroken series of n steps d_i between n+1 passages of the wheel's targets:

    d_i = c_j(i) + ξ_i + e_{i+1} − e_i,     ξ ~ (0, q²),  e ~ (0, σ²)

c_j is the flyer's advance from wheel target j to the next, so Σ_j c_j = r, the ratio; ξ is slip noise, e timing.
Cov d = σ²(λI + T), λ = q²/σ², T = tridiag(−1, 2, −1). T's eigenvectors are the sines of the discrete sine transform
(type I) with eigenvalues μ_k = 2 − 2cos(πk/(n+1)), so in the transform's coordinates every term is independent with
variance σ²(λ + μ_k): the exact likelihood for any λ is one pass, however the series are cut into pieces.

But for two things (`NoiseMix`): slip between two flyer pulses isn't seen where it falls, and timing errors may linger.

The best linear unbiased prediction of the ratio really made, (x_N − x_0)/N, is the drift r̂ less what its residuals
tell of the two ends (`_predicted`). With q = 0 it is the slope through the passages, its error variance
12σ²/(N(N+1)(N+2)); with σ = 0 it is the count end to end, as sure as its ends.

λ is not estimated and then believed: the estimate is averaged over λ (uniform in ln λ over the range that the data can
tell apart) and σ² by the restricted likelihood (REML), so that the interval includes not knowing them. The series alone
would take any wavering of the level for timing noise and smooth it away, so what the sensors themselves show of their
timing (`TimingPrior`) is multiplied in.
Checked against a dense GLS solution, statsmodels' local level model, and simulated coverage.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erf, exp, inf, pi, sqrt

import numpy as np

from whorlpulse.estimators.measured import Measured, coverage_factor
from whorlpulse.estimators.step_spectrum import Spectrum
from whorlpulse.pulses import FloatArray, IntArray

_GRID, _SIGMA_GRID = 25, 9
_MOST_STEPS, _LEAST_WEIGHT, _TOGETHER = 60, 1e-5, 3
#: Below λ = _LEAST_LAMBDA/n² slip could not be told from none; above _MOST_LAMBDA no sensor is as exact.
_LEAST_LAMBDA, _MOST_LAMBDA = 0.01, 1e8
#: Decades within which the flyer's scatter is known, and is that of a random walk where it is slip.
_WALK_WIDTH = 0.06
#: Of the flyer's scatter a share f is timing, the rest slip: density f^_SHARE per ln f (0: evenly in ln σ, which would
#: give most of it to sensors a hundred times better than what they show; 1: evenly in σ²). Set by simulated coverage.
_SHARE = 0.25
#: How much of its timing error a passage keeps from the one before, which part of the errors' density at frequency 0
#: does so (the rest is independent: the other shaft's, say), and how likely that is beforehand. Independent errors are
#: the rule; but an error that lingers looks like slip, and only its not adding up tells it. Set by simulated coverage.
_KEPT, _KEPT_PART, _KEPT_PRIOR = (0.0, 0.5, 0.8, 0.85), (1.0, 0.9, 0.9, 1.0), (0.57, 0.07, 0.045, 0.03)
#: How much of what lingering takes off the wheel's scatter it may take off the flyer's too, in decades.
_FLYER_LINGERS = 0.7
#: How likely it is beforehand that slip is smooth between two flyer pulses: a foot's, not the band's own.
_SMOOTH_PRIOR = 0.285


@dataclass(frozen=True)
class TimingPrior:
    """What the sensors show of σ² (flyer turns squared), beside the series themselves. Widths are in decades of σ.

    least: the clock's tick alone. ordinary: of sensors in general, within ordinary_width. shown_least, shown_most: what
    the flyer's own pulses scatter by lies between these, each within shown_width where it is timing. That scatter is
    σ², and with slip between two flyer pulses σ²(1 + λ slip_shown), if that is a random walk there too. unseen: see
    `NoiseMix`.
    """

    least: float
    ordinary: float
    ordinary_width: float
    shown_least: float
    shown_most: float
    shown_width: float
    slip_shown: float
    unseen: float

    def log_weight(self, sigma2: FloatArray, lam: FloatArray, kept: FloatArray, walks: FloatArray) -> FloatArray:
        """Log of the prior density, but for a constant, of ln sigma2 (m, k), for each lam, kept and walks (m, 1).

        walks: 1 where slip is a random walk between two flyer pulses too, 0 where it is smooth there and doesn't show.

        Errors that linger (kept > 0) are smaller, one by one, than their density at frequency 0, sigma2; and if the
        flyer's linger too, from pulse to pulse, their differences show less of them by as much again (`_FLYER_LINGERS`
        of it is allowed: slip must not pass for timing that the flyer doesn't show).
        """
        part = _lingering_part(kept)
        lingering = 1.0 - part + part * (1.0 - kept) / (1.0 + kept)
        own = np.maximum(sigma2 * lingering, self.least)
        unusual = 0.5 * np.log10(own / self.ordinary) / self.ordinary_width
        slip = walks * lam / lingering * self.slip_shown
        width = np.hypot(self.shown_width / (1.0 + slip), _WALK_WIDTH)
        scatter = np.log10(own * (1.0 + slip))
        most = np.log10(max(self.shown_most, self.least)) - _FLYER_LINGERS * np.log10(lingering)
        over = np.maximum(scatter - most, 0.0)
        short = np.maximum(np.log10(max(self.shown_least, self.least)) - scatter, 0.0)
        apart = 0.5 * (over + short) / width
        weight: FloatArray = -0.5 * (unusual**2 + apart**2) - _SHARE * np.log(1.0 + slip)
        return weight


@dataclass(frozen=True)
class NoiseMix:
    """What the series say about the noise: candidates lam, kept (m,), their weight (m,), variance sigma2 (m,), dof.

    kept: how much of its timing error a passage keeps from the one before, one of `_KEPT`; sigma2 is then the errors'
    spectral density at frequency 0.
    unseen: slip between two flyer pulses isn't seen where it falls: the curve cuts the corner of a random walk pinned
    at both ends, whose mean variance is a sixth of its step's (Brownian bridge, ∫s(1−s)ds), q²/(6m) with m flyer pulses
    a step. What a passage gives too much to one step it takes from the next, so that Cov d is σ²T + q²(I − unseen·T),
    while each end of a piece is unsure by unseen·q². 0 where slip is taken to be smooth between two flyer pulses.
    """

    lam: FloatArray
    kept: FloatArray
    weight: FloatArray
    sigma2: FloatArray
    dof: float
    unseen: FloatArray | float = 0.0


def _timing(mu: FloatArray, kept: FloatArray) -> FloatArray:
    """Timing's part of each transform coefficient's variance for each candidate, over σ²: (m, k).

    The spectral density of a first-order autoregression, (1 − ρ)²/|1 − ρe^{iω}|² with |1 − ρe^{iω}|² = (1 − ρ)² + ρμ,
    beside errors that are independent.
    """
    some, which = np.unique(kept, return_inverse=True)
    own, part = (1.0 - some[:, None]) ** 2, _lingering_part(some[:, None])
    timed: FloatArray = (mu * (1.0 - part + part * own / (own + some[:, None] * mu)))[which]
    return timed


def _lingering_part(kept: FloatArray) -> FloatArray:
    """Which part of the errors' density at frequency 0 lingers, for each of kept (any shape), values of `_KEPT`."""
    part: FloatArray = np.array(_KEPT_PART)[np.searchsorted(_KEPT, kept)]
    return part


def _variances(mu: FloatArray, lam: FloatArray, kept: FloatArray, unseen: FloatArray | float) -> FloatArray:
    """Variance of each transform coefficient for each candidate, over σ²: (m, k)."""
    g: FloatArray = lam[:, None] * (1.0 - np.reshape(unseen, (-1, 1)) * mu) + _timing(mu, kept)
    return g


def _sums(data: Spectrum, weight: FloatArray) -> FloatArray:
    """Products of the columns weighted by weight (m, k): (m, C+1, C+1)."""
    columns = data.cross.shape[1]
    sums: FloatArray = (weight @ data.cross.reshape(len(data.mu), -1)).reshape(-1, columns, columns)
    return sums


def _candidates() -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
    """Each candidate's place (m,) on the grid of λ, its kept (m,), walks (m,) and log prior (m,)."""
    # Lingering errors are seldom: every second λ does for them.
    kinds = [*((k, 1.0, p) for k, p in zip(_KEPT, _KEPT_PRIOR, strict=True)), (0.0, 0.0, _SMOOTH_PRIOR)]
    column = [np.arange(0, _GRID, 1 if kept == 0.0 else 2) for kept, _, _ in kinds]
    kept, walks = ([np.full(len(c), kind[i]) for c, kind in zip(column, kinds, strict=True)] for i in (0, 1))
    prior = [np.full(len(c), np.log(kind[2] / len(c))) for c, kind in zip(column, kinds, strict=True)]
    return np.concatenate(column), np.concatenate(kept), np.concatenate(walks), np.concatenate(prior)


def noise_mix(data: Spectrum, timing: TimingPrior) -> NoiseMix:
    """What `data` and the sensor tell of λ, and of how timing errors linger."""
    low, high = np.log(_LEAST_LAMBDA / data.steps**2), np.log(_MOST_LAMBDA)
    column, kept, walks, log_prior = _candidates()
    unseen = walks * timing.unseen
    for _ in range(6):
        ln_lam = np.linspace(low, high, _GRID)
        lam = np.exp(ln_lam)[column]
        fit, best = _likelihood(data, lam, kept, unseen)
        sigma2, spread, told = _sigma2_given(best, lam, kept, walks, max(data.dof, 1), timing)
        likelihood = fit + told + log_prior
        top = float(likelihood.max())
        likely = np.unique(column[likelihood > top - 12])
        if len(likely) > _GRID // 3:
            break
        low, high = ln_lam[max(likely[0] - 1, 0)], ln_lam[min(likely[-1] + 1, _GRID - 1)]
    weight = np.exp(likelihood - top)
    weight /= weight.sum()
    some = weight > _LEAST_WEIGHT
    dof = max(2.0 / float(weight @ spread), 1.0)
    return NoiseMix(lam[some], kept[some], weight[some] / weight[some].sum(), sigma2[some], dof, unseen[some])


def _likelihood(data: Spectrum, lam: FloatArray, kept: FloatArray, unseen: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Restricted log likelihood at the best σ², and that σ², for candidates lam, kept (m,)."""
    g = _variances(data.mu, lam, kept, unseen)
    sums = _sums(data, 1.0 / g)
    normal, right, total = sums[:, :-1, :-1], sums[:, :-1, -1:], sums[:, -1, -1]
    rss = np.maximum(total - (right * np.linalg.solve(normal, right))[:, :, 0].sum(axis=1), 0.0)
    dof = max(data.dof, 1)
    sigma2 = np.maximum(rss / dof, 1e-30)
    _, log_det = np.linalg.slogdet(normal)
    return -0.5 * (np.log(g) @ data.rows + log_det + dof * np.log(sigma2)), sigma2


def _sigma2_given(
    best: FloatArray, lam: FloatArray, kept: FloatArray, walks: FloatArray, dof: int, timing: TimingPrior
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """For candidates lam, kept (m,) with best σ² (m,): mean of σ², its relative variance, log evidence.

    The integral over ln σ² reaches five standard deviations of its likelihood, sqrt(2/dof), to either side.
    """
    x = np.linspace(-5.0, 5.0, _SIGMA_GRID) * np.sqrt(2.0 / dof)
    sigma2 = np.maximum(best[:, None] * np.exp(x), timing.least)
    log_density = -0.5 * dof * (np.log(sigma2 / best[:, None]) + best[:, None] / sigma2)
    log_density += timing.log_weight(sigma2, lam[:, None], kept[:, None], walks[:, None])
    top = log_density.max(axis=1, keepdims=True)
    density = np.exp(log_density - top)
    evidence = density.sum(axis=1)
    share = density / evidence[:, None]
    mean = (share * sigma2).sum(axis=1)
    spread = (share * (sigma2 / mean[:, None] - 1.0) ** 2).sum(axis=1)
    return mean, np.maximum(spread, 1e-9), top[:, 0] + np.log(evidence)


@dataclass(frozen=True)
class Drift:
    """made: the ratio really made over these steps. expected: what another run of as many steps would make.

    The forecast is unsure by this run's slip and by the other one's, q² over its turns each.
    """

    made: Measured
    expected: Measured


def drift(data: Spectrum, mix: NoiseMix, targets: int) -> Drift:
    """Estimate the drift per wheel turn of the steps in `data`, averaged over the noise mix."""
    centre, unit_variance = _predicted(data, mix, targets)
    slip = mix.lam * targets * targets / data.steps
    made = mix.sigma2 * np.maximum(unit_variance, 0.0)
    return Drift(_averaged(centre, made, mix), _averaged(centre, made + 2 * mix.sigma2 * slip, mix))


def _predicted(data: Spectrum, mix: NoiseMix, targets: int) -> tuple[FloatArray, FloatArray]:
    """For each candidate the best prediction of the ratio made, and its error's variance over σ²: (m,), (m,).

    With 1 the sum of the targets' columns X, t = (timing's part of V)1, W wheel turns: Cov(d, made) = k = (V1 − t)/W,
    so the prediction r̂ + kᵀV⁻¹(d − Xĉ) is r̂ + (1 − V⁻¹t)ᵀ(d − Xĉ)/W, and its error has over σ² the variance
    (unseen·λ 1ᵀT1 + 1ᵀt − tᵀV⁻¹t)/W² + aᵀN⁻¹a, a = 1 − XᵀV⁻¹k, N = XᵀV⁻¹X (Goldberger 1962).
    """
    inverse = 1.0 / _variances(data.mu, mix.lam, mix.kept, mix.unseen)
    timed, turns = _timing(data.mu, mix.kept), data.steps / targets
    plain, once = data.cross.sum(axis=0)[:-1].sum(axis=0), _sums(data, inverse)
    ends = _sums(data, timed * inverse)[:, :-1].sum(axis=1)
    ones = data.cross[:, :-1, :-1].sum(axis=(1, 2))
    normal, right = once[:, :-1, :-1], once[:, :-1, -1]
    short = 1.0 - plain[:-1] / turns + ends[:, :-1] / turns
    solved = np.linalg.solve(normal, np.stack((right, short), axis=2))
    fitted, lever = solved[:, :, 0], solved[:, :, 1]
    left = plain[-1] - fitted @ plain[:-1] - ends[:, -1] + (ends[:, :-1] * fitted).sum(axis=1)
    variance = mix.unseen * mix.lam * (data.mu @ ones) + (timed - timed * timed * inverse) @ ones
    made = targets * data.level + fitted.sum(axis=1) + left / turns
    return made, variance / turns**2 + (short * lever).sum(axis=1)


def _averaged(centre: FloatArray, variance: FloatArray, mix: NoiseMix) -> Measured:
    """The mixture of normal distributions over the candidates as one value with the mixture's 95 % interval about it.

    The value is that of independent timing errors: errors that linger are allowed for in the interval, but where slip
    is what wavers, smoothing it for their sake would cost a third of what the log tells. The interval is widened to
    Student's t for the degrees of freedom behind σ².
    """
    plain = mix.weight * (mix.kept == mix.kept.min())
    mean = float(plain @ centre) / float(plain.sum())
    # Three neighbours on the grid of λ hardly differ: as one normal they cost a third.
    first = np.arange(0, len(centre), _TOGETHER)
    weight = np.maximum(np.add.reduceat(mix.weight, first), 1e-300)
    offset = np.add.reduceat(mix.weight * (centre - mean), first) / weight
    square = np.add.reduceat(mix.weight * (variance + (centre - mean) ** 2), first) / weight
    kept = weight > _LEAST_WEIGHT
    offset, weight = offset[kept], weight[kept]
    sd = np.sqrt(np.maximum(square[kept] - offset**2, 1e-300))
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
        if abs(step) <= 1e-10 * half:
            break
    return Measured(mean, half / coverage_factor(inf), mix.dof)
