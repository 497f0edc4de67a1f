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
from scipy.linalg import block_diag, cho_factor, cho_solve


@dataclass(frozen=True)
class Known:
    """A best predictor: weights (n,) of the steps, and its error's standard deviation."""

    weights: np.ndarray
    u: float

    def ratio(self, steps: np.ndarray) -> float:
        """Return the ratio that these steps (n,) show, flyer turns per wheel turn."""
        return float(self.weights @ steps)


@lru_cache(maxsize=512)
def best_known(
    pieces: tuple[tuple[int, ...], ...], targets: int, sigma: float, q: float, flyer_passages: float
) -> Known:
    """Return the best predictor of the ratio made over all pieces of one run, from all their steps in order.

    pieces: the numbers of each one's passages, rising; where one wasn't seen the step spans it. sigma: noise of y at a
    passage, q: slip noise of a wheel turn, both in flyer turns (standard deviations). flyer_passages: a wheel turn.

    Between two flyer passages the slip (a random walk) isn't seen where it falls: with parts a before and b after the
    wheel's passage, y misses it by s(a + b) − a, so that y's noise covaries with the slip after it by
    +q²/(6 flyer_passages) and with that before it by as much less (the mean of s(1 − s) is 1/6).
    """
    corner = q * q / (6.0 * flyer_passages)
    X, V, with_made = [], [], []
    for numbers in pieces:
        first, spans = np.array(numbers[:-1]), np.diff(numbers)
        n = len(first)
        rows = np.zeros((n, targets))
        for i, (start, over) in enumerate(zip(first, spans, strict=True)):
            for k in range(over):
                rows[i, (start + k) % targets] += 1.0
        # ξ (n) and e (n + 1) together; steps are d = ξ + difference of e
        slip, noise = np.diag(q * q * spans / targets), max(sigma, 1e-9) ** 2 * np.eye(n + 1)
        both = corner * (np.eye(n, n + 1) - np.eye(n, n + 1, k=1))
        D = np.eye(n, n + 1, k=1) - np.eye(n, n + 1)
        X.append(rows)
        V.append(slip + both @ D.T + D @ both.T + D @ noise @ D.T)
        with_made.append((slip + D @ both.T).sum(axis=1))
    made = q * q * np.concatenate(X).sum() / targets
    return _predictor(np.concatenate(X), block_diag(*V), np.concatenate(with_made), made)


def _predictor(X: np.ndarray, V: np.ndarray, with_made: np.ndarray, made: float) -> Known:
    """with_made (n,): covariance of the steps with all slip made, whose variance is made."""
    turns = X.sum() / X.shape[1]
    k, g = with_made / turns, X.sum(axis=0) / turns
    factor = cho_factor(V)
    VX, Vk = cho_solve(factor, X), cho_solve(factor, k)
    N = X.T @ VX
    short = g - X.T @ Vk
    weights = Vk + VX @ np.linalg.solve(N, short)
    variance = made / turns**2 - k @ Vk + short @ np.linalg.solve(N, short)
    return Known(weights, float(np.sqrt(max(variance, 0.0))))
