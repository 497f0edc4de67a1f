"""The ratio from lines that stand for several turns, as sensors with a running count report them.

Between two lines neither shaft is seen, so treadling leaves residuals that resemble their neighbours. The uncertainty
of a straight line through flyer turns against wheel turns is widened for their correlation ρ by √((1+ρ)/(1−ρ)), as for
an AR(1) error. Two clocks that wander against each other by u_s tilt the line by no more than that at both ends.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from whorlpulse.conditioning.targets import Angles
from whorlpulse.estimators.level_series import Drift
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.wheel_steps import Piece

#: Lines of a piece needed for a line's slope and its scatter.
FEWEST_COUNTS = 4
_MOST_CORRELATION = 0.9


def can_be_fitted(piece: Piece, angles: Angles) -> bool:
    """Whether a piece has lines enough, each farther on than the one before: turns beyond 2^53 cannot be told apart."""
    whole, part = angles.turns(piece.passage)
    return len(piece.y) >= FEWEST_COUNTS and bool((np.diff(whole + part) > 0).all())


def counted_drift(pieces: Sequence[Piece], angles: Angles, tie_u_s: float) -> Drift:
    """Slope of flyer turns against wheel turns over the pieces, each of which can be fitted."""
    xs, ys = [], []
    for p in pieces:
        whole, part = angles.turns(p.passage)
        x = whole + part
        xs.append(x - x.mean())
        ys.append(p.y - p.y.mean())
    x, y = np.concatenate(xs), np.concatenate(ys)
    slope = float(x @ y / (x @ x))
    residual = y - slope * x
    dof = max(len(x) - 1 - len(pieces), 1)
    scatter = float(residual @ residual)
    rho = float(residual[1:] @ residual[:-1]) / scatter if scatter > 0 else 0.0
    rho = min(max(rho, 0.0), _MOST_CORRELATION)
    u = float(np.sqrt(scatter / dof / (x @ x) * (1 + rho) / (1 - rho)))
    seconds = sum(float(p.t_s[-1] - p.t_s[0]) for p in pieces)
    u = float(np.hypot(u, slope * np.sqrt(2) * tie_u_s / seconds))
    measured = Measured(slope, u, dof)
    return Drift(measured, measured)
