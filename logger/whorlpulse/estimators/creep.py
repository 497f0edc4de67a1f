"""What the steady loss goes with: the flyer's acceleration, its speed, yarn being wound on.

A band creeps in proportion to the difference of its strands' tensions, that is to the torque it brings to the flyer:
drag, which may grow with speed and rises while the brake winds yarn on, and the flyer's inertia times its
acceleration. So over ordinary steps (no bursts) the lost share of the advance is regressed on

    speed of the wheel / its mean,   R dv/dt of the wheel (flyer turns/s²),   winding on (0 to 1)

all taken from wheel and roller, not from the flyer, so that an error in the flyer's count is not on both sides; for
each wheel target by itself, since once a turn the push and misplaced targets can't be told apart. Residuals resemble
their neighbours: standard errors are robust for clusters of `_CLUSTER_TURNS` turns (Liang and Zeger 1986, from memory).

A loss that tracks nothing while load and speed change is no creep: it points at the reference. How much of the loss
would have to go with the load is judged in `findings.slip_rules`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from whorlpulse.estimators.slip_series import LossSeries
from whorlpulse.pulses import BoolArray, FloatArray

_CLUSTER_TURNS = 4
_FEWEST_STEPS = 40
_FEWEST_WOUND = 8
_SURE = 4.0  # standard errors
_MOST_STEPS = 40_000
_REFITS, _FAR = 2, 6.0
_TELLING_SWING = 5e-4

Load = Literal["acceleration", "speed", "winding"]


@dataclass(frozen=True)
class Tracked:
    """What the loss goes with. swing: lost share at the load's 95th percentile less that at its 5th, with swing_u.

    sure: beyond four standard errors, and more than 0.05 % of the ratio. per_unit: lost share per flyer turn/s², per
    mean speed, or while winding on. once_a_turn: what of the loss comes once a wheel turn by the load's own rhythm, as
    an amplitude (share); NaN with fewer than three wheel targets.
    """

    load: Load
    per_unit: float
    swing: float
    swing_u: float
    sure: bool
    once_a_turn: float


def tracked_loads(
    series: Sequence[LossSeries], ordinary: Sequence[BoolArray], targets: int, ratio: float, wound_s: FloatArray | None
) -> tuple[Tracked, ...]:
    """Return what the loss goes with, the largest swing first; empty when there are too few steps.

    ordinary[i] (n,): the steps of series[i] to use. wound_s (m,): times of take-up passages, None without roller.
    """
    parts = [_rows(one, kept, targets, ratio, wound_s) for one, kept in zip(series, ordinary, strict=True)]
    table = np.concatenate([p for p in parts if p is not None]) if any(p is not None for p in parts) else None
    if table is None or len(table) < _FEWEST_STEPS * max(targets // 2, 1):
        return ()
    table = table[:_MOST_STEPS]
    target, cluster, lost, loads = table[:, 0].astype(int), table[:, 1].astype(int), table[:, 2], table[:, 3:]
    names: list[Load] = ["acceleration", "speed"]
    if wound_s is not None and _FEWEST_WOUND < np.count_nonzero(loads[:, 2] > 0.5) < 0.9 * len(loads):
        names.append("winding")
    loads = loads[:, : len(names)]
    swing_of = np.quantile(loads, 0.95, axis=0) - np.quantile(loads, 0.05, axis=0)
    if "winding" in names:
        swing_of[2] = 1.0  # all or none, however seldom
    own_rhythm = [_once_a_turn(column, target, targets) for column in loads.T]
    lost, loads = _less_target_means(lost[:, None], target)[:, 0], _less_target_means(loads, target)
    coefficient, u = _clustered(loads, lost, cluster)
    for _ in range(_REFITS):  # a wheel that nearly stands is interpolated badly, and such steps pull far
        rest = np.abs(lost - loads @ coefficient)
        good = rest <= _FAR * 1.4826 * float(np.median(rest)) + 1e-12
        coefficient, u = _clustered(loads[good], lost[good], cluster[good])
    found = [
        Tracked(
            name,
            float(c),
            float(c * s),
            float(uc * abs(s)),
            bool(abs(c) > _SURE * uc and abs(c * s) > _TELLING_SWING),
            float(abs(c) * o),
        )
        for name, c, uc, s, o in zip(names, coefficient, u, swing_of, own_rhythm, strict=True)
    ]
    return tuple(sorted(found, key=lambda t: -abs(t.swing)))


def _rows(
    one: LossSeries, kept: BoolArray, targets: int, ratio: float, wound_s: FloatArray | None
) -> FloatArray | None:
    """(k, 6): wheel target, cluster, lost share, acceleration, speed, winding of the steps kept."""
    kept = kept & one.single & one.at_speed
    if kept.sum() < 8:
        return None
    t, steps = one.piece.t_s, one.step_turns
    speed = steps / np.diff(t)
    middle = 0.5 * (t[1:] + t[:-1])
    acceleration = ratio * np.gradient(speed, middle)
    winding = np.zeros(len(speed)) if wound_s is None else _winding(t, wound_s)
    cluster = np.floor(one.turns[:-1] / _CLUSTER_TURNS)
    columns = (
        one.piece.passage[:-1] % targets,
        cluster,
        one.loss / steps / ratio,
        acceleration,
        speed / speed[kept].mean(),
        winding,
    )
    table: FloatArray = np.stack(columns, axis=1)[kept]
    return table


def _winding(t: FloatArray, wound_s: FloatArray) -> FloatArray:
    """How much of each step between times t (n+1,) yarn was wound on, 0 to 1."""
    if len(wound_s) < 2:
        return np.zeros(len(t) - 1)
    pace = float(np.median(np.diff(wound_s)))
    passages = np.diff(np.searchsorted(wound_s, t))
    share: FloatArray = np.clip(passages * pace / np.diff(t), 0.0, 1.0)
    return share


def _less_target_means(x: FloatArray, target: np.ndarray) -> FloatArray:
    """Return x (n, k) less its mean over the steps after the same wheel target."""
    count = np.bincount(target)
    means = np.stack([np.bincount(target, column) for column in x.T], axis=1) / np.maximum(count, 1)[:, None]
    rest: FloatArray = x - means[target]
    return rest


def _once_a_turn(x: FloatArray, target: np.ndarray, targets: int) -> float:
    """Amplitude of x (n,) once a wheel turn, by its means after each target, as if these were even."""
    if targets < 3:
        return float("nan")
    means = np.bincount(target, x, targets) / np.maximum(np.bincount(target, minlength=targets), 1)
    # A sinusoid averaged over a step of 1/N turn is smaller by sinc(1/N).
    return float(2.0 * np.abs(np.fft.rfft(means)[1]) / targets / np.sinc(1.0 / targets))


def _clustered(x: FloatArray, y: FloatArray, cluster: np.ndarray) -> tuple[FloatArray, FloatArray]:
    """Least squares of y (n,) on x (n, k), and standard errors robust for clusters."""
    inverse = np.linalg.pinv(x.T @ x)
    coefficient = inverse @ (x.T @ y)
    score = x * (y - x @ coefficient)[:, None]
    _, label = np.unique(cluster, return_inverse=True)
    sums = np.stack([np.bincount(label, column) for column in score.T], axis=1)
    variance = np.diag(inverse @ (sums.T @ sums) @ inverse)
    return coefficient, np.sqrt(np.maximum(variance, 1e-300))
