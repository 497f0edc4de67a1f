"""How exact a ratio can be: generalised least squares with the noise known, by dense matrices.

Written from the model of the design alone (passages y_n = x_n + e_n, x_{n+1} − x_n = c_j + ξ_n); it shares no code with
the package. The best linear unbiased prediction of the flyer's turns really made, over the wheel's, is Goldberger's
(J. Am. Stat. Assoc. 57 (1962) 369, from memory):  a = V⁻¹(k + X N⁻¹(g − Xᵀ V⁻¹ k)), N = Xᵀ V⁻¹ X, k = Cov(d, made).
With Gaussian noise no unbiased estimate of any kind has a smaller variance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.linalg import cho_factor, cho_solve


@dataclass(frozen=True)
class Known:
    """A best predictor: weights (n,) of the steps, and its error's standard deviation."""

    weights: np.ndarray
    u: float

    def ratio(self, steps: np.ndarray) -> float:
        """Return the ratio that these steps (n,) show, flyer turns per wheel turn."""
        return float(self.weights @ steps)


@lru_cache(maxsize=512)
def best_known(passages: tuple[int, ...], targets: int, sigma: float, q: float) -> Known:
    """Return the best predictor of the ratio made from the first to the last of the passages.

    passages: their numbers, rising; where one wasn't seen the step spans it. sigma: timing noise of a passage, q: slip
    noise of a wheel turn, both in flyer turns (standard deviations).
    """
    number = np.array(passages)
    first, spans = number[:-1], np.diff(number)
    n = len(first)
    X = np.zeros((n, targets))
    for i in range(n):
        for k in range(spans[i]):
            X[i, (first[i] + k) % targets] += 1.0
    slip = q * q * spans / targets
    sigma = max(sigma, 1e-9)
    V = np.diag(slip) + sigma**2 * (2.0 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1))
    turns = spans.sum() / targets
    k, g = slip / turns, X.sum(axis=0) / turns
    factor = cho_factor(V)
    VX, Vk = cho_solve(factor, X), cho_solve(factor, k)
    N = X.T @ VX
    short = g - X.T @ Vk
    weights = Vk + VX @ np.linalg.solve(N, short)
    variance = slip.sum() / turns**2 - k @ Vk + short @ np.linalg.solve(N, short)
    return Known(weights, float(np.sqrt(max(variance, 0.0))))
