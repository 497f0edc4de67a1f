"""The drift of a noisy level against statsmodels: `python tests/benchmarks/smoother.py [--points 100000]`.

The same model, y_n = x_n + e_n, x_{n+1} = x_n + r + ξ_n, with the same known variances: statsmodels' Kalman filter and
smoother ("local linear deterministic trend", exact diffuse start), and the sine transform of the steps that `ratio`
uses. Both say the drift and its standard uncertainty; they must agree to 1e-6.
"""

from __future__ import annotations

import argparse
import warnings

import numpy as np

if __package__:
    from tests.benchmarks.measuring import Bar, medians
else:
    from measuring import Bar, medians

from whorlpulse.estimators.level_series import NoiseMix, drift
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.step_spectrum import Steps, spectrum

SIGMA, Q, RATIO = 0.004, 0.006, 8.37


def drift_of(d: np.ndarray, target: np.ndarray) -> Measured:
    """Return the drift behind the steps d (n,), the run's own slip in its uncertainty as statsmodels has it."""
    data = spectrum([Steps(d, target)], 1)
    if data is None:
        raise SystemExit("the series has no step")
    known = {"lam": Q**2 / SIGMA**2, "weight": 1.0, "sigma2": SIGMA**2, "kept": 0.0}
    columns = {name: np.array([x]) for name, x in known.items() if name in NoiseMix.__dataclass_fields__}
    found = drift(data, NoiseMix(**columns, dof=float("inf")), 1)
    return Measured(found.made.value, float(np.hypot(found.made.u, Q / np.sqrt(len(d)))))


def compare(points: int) -> tuple[dict[str, float], float, float]:
    """Return the seconds of both, and how far they are apart: value, and uncertainty as a part of it."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of statsmodels and pandas themselves
        from statsmodels.tsa.statespace.structural import UnobservedComponents
    rng = np.random.default_rng(8)
    level = np.concatenate(([0.0], np.cumsum(RATIO + Q * rng.standard_normal(points - 1))))
    y = level + SIGMA * rng.standard_normal(points)
    model = UnobservedComponents(y, "lldtrend", use_exact_diffuse=True)
    model.ssm.tolerance = 0.0  # else it takes its gain for settled after a few hundred points, long before it is
    smoothed = model.smooth([SIGMA**2, Q**2])
    target = np.zeros(points - 1, np.int64)
    ours = drift_of(np.diff(y), target)
    off = abs(ours.value - float(smoothed.smoothed_state[1, 0]))
    u_off = abs(ours.u / float(np.sqrt(smoothed.smoothed_state_cov[1, 1, 0])) - 1.0)
    passes = {
        "statsmodels": lambda: model.ssm.smooth(),
        "ours": lambda: drift_of(np.diff(y), target),
    }
    return medians(passes, 5), off, u_off


def bars(points: int) -> list[Bar]:
    """Return the lines of the table."""
    seconds, off, u_off = compare(points)
    share = seconds["ours"] / seconds["statsmodels"]
    return [
        Bar(f"drift of a level, {points} points, over statsmodels' smoother", share, "x", 1 / 50),
        Bar("the same: drift further from statsmodels'", off, "", 1e-6),
        Bar("the same: uncertainty further from statsmodels', as a part", u_off, "", 1e-6),
    ]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--points", type=int, default=100_000)
    seconds, off, u_off = compare(parser.parse_args().points)
    for name, s in seconds.items():
        print(f"{name:14s}{s * 1e3:10.1f} ms")
    print(f"statsmodels over ours {seconds['statsmodels'] / seconds['ours']:.0f} (bar 50)")
    print(f"drift apart by {off:.1e}, uncertainty by {u_off:.1e} of itself (bar 1e-6)")


if __name__ == "__main__":
    main()
