"""Cadence: wheel turns per minute while the wheel is treadled, how steady it is, and where it is going.

Laps are whole wheel turns from passage to passage of one target, run by run, without the turns in which the wheel
starts up or runs down. With T_i the laps' periods:

- mean: turns / time. What a foot keeps wanders slowly, so neighbouring laps are no independent draws: the laps are cut
  into five batches in a row, and the scatter of the batches' means, times (1 + r)/(1 - r) with r their lag-one
  correlation, gives the uncertainty (batch means; Law and Kelton, Simulation Modeling and Analysis, from memory).
  Each run has batches of its own for the mean of this log; batches over all runs say what another log might have.
- steadiness: the coefficient of variation of T_i. Its turn-to-turn part is half the mean squared difference of
  neighbours (von Neumann 1941, from memory), which slow drift hardly enters; drift is what is left of the variance.
  Its uncertainty is that of the delete-a-group jackknife: with G blocks of turns in a row, θ_g without one of them,
  u² = (G - 1)/G Σ (θ_g - mean θ)² (Kott, Journal of Official Statistics 17 (2001) 521, from memory).
- trend: the line through the batches' cadence against time.

Refuses below `FEWEST_TURNS` whole turns. Wandering slower than the log is not in the interval: no log can show it.
Validated against numpy and closed forms, simulated truth, and coverage on wandering series (tests/estimators).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import numpy as np

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.laps import Laps, Treadled, laps_of, treadled_parts
from whorlpulse.estimators.measured import Measured, welch_satterthwaite
from whorlpulse.pulses import WHEEL, FloatArray, IntArray

#: Whole wheel turns needed before a cadence is said.
FEWEST_TURNS = 5
_BATCHES = 5
_TREND_BATCHES = 4
#: The batches' correlation is not believed beyond this: five of them tell it badly.
_MOST_CORRELATED = 0.5
#: Laps needed before steadiness and trend are said, and blocks whose leaving out tells how sure they are: of about so
#: many turns, as a foot wanders over some twenty seconds.
_FEWEST_FOR_SCATTER = 8
_BLOCK_TURNS = 25
_FEWEST_BLOCKS, _MOST_BLOCKS = 4, 10


@dataclass(frozen=True)
class RunCadence:
    """One run: seconds since the log's first line, whole turns between, and turns per second by the board's clock."""

    start_s: float
    end_s: float
    wheel_turns: float
    cadence_hz: float


@dataclass(frozen=True)
class Steadiness:
    """Coefficients of variation of the turn periods, as parts of 1: all of it, its drift, and from turn to turn."""

    overall: Measured
    drift: float
    turn_to_turn: Measured


@dataclass(frozen=True)
class CadenceEstimate:
    """What a log says of its cadence by the board's clock, in turns per second. mean None: too few whole turns.

    expected: the mean with the ± for another such log, where runs would have other paces too; None as mean is.
    steadiness and trend_hz_per_s are None where the log is too short or its lines stand for several turns each.
    """

    mean: Measured | None
    wheel_turns: float
    treadled_s: float
    runs: tuple[RunCadence, ...]
    steadiness: Steadiness | None
    trend_hz_per_s: Measured | None
    expected: Measured | None = None


def estimate_cadence(log: Conditioned) -> CadenceEstimate:
    """Estimate the cadence of a conditioned log; see the module's head."""
    parts = treadled_parts(log)
    laps = laps_of(parts)
    turns, seconds = float(laps.turns.sum()), float(laps.period_s.sum())
    enough = turns >= FEWEST_TURNS
    scattered = enough and WHEEL not in log.coarse and len(laps.turns) >= _FEWEST_FOR_SCATTER
    return CadenceEstimate(
        mean=mean_cadence(laps) if enough else None,
        wheel_turns=turns,
        treadled_s=seconds,
        runs=_runs(laps),
        steadiness=steadiness(parts) if scattered else None,
        trend_hz_per_s=trend(laps) if enough and len(laps.turns) >= _FEWEST_FOR_SCATTER else None,
        expected=expected_cadence(laps) if enough else None,
    )


def by_true_clock(value: Measured, rate: Measured) -> Measured:
    """A cadence by the board's clock in true time; rate: true seconds a board second. Both parts' u are kept."""
    u = hypot(value.u, value.value * rate.u / rate.value) / rate.value
    parts = [(value.u, value.dof), (abs(value.value) * rate.u / rate.value, rate.dof)]
    return Measured(value.value / rate.value, u, welch_satterthwaite(parts))


def mean_cadence(laps: Laps) -> Measured:
    """Turns per second of laps (at least 2), with the batches' uncertainty.

    Runs are strata: that one was treadled faster than the other is a fact of the log and no uncertainty of its mean.
    """
    total, runs, lone = float(laps.turns.sum()), [], 0.0
    for run in np.unique(laps.run):
        mine = laps.run == run
        part = float(laps.turns[mine].sum()) / total
        found = batch_mean(laps.period_s[mine], laps.turns[mine])
        if found is None:
            lone += part
        else:
            runs.append((part * found.u, found.dof))
    mean = float(laps.period_s.sum()) / total
    if not runs:
        # No run has two batches: a half of itself is all that can be said.
        return Measured(1.0 / mean, 0.5 / mean, 1.0)
    # Runs too short for a scatter of their own have that of the others.
    u = hypot(*(u for u, _ in runs)) / (1.0 - lone) if lone < 1.0 else mean
    return Measured(1.0 / mean, u / mean**2, welch_satterthwaite(runs))


def expected_cadence(laps: Laps) -> Measured:
    """The mean of laps (at least 2), with the uncertainty of another such log's: batches run on from run to run."""
    found = batch_mean(laps.period_s, laps.turns)
    return mean_cadence(laps) if found is None else Measured(1.0 / found.value, found.u / found.value**2, found.dof)


def batch_mean(period_s: FloatArray, turns: FloatArray) -> Measured | None:
    """Seconds per turn of one run's laps: period_s (n,) for turns (n,); None where they don't make two batches."""
    edges = _edges(turns, min(_BATCHES, len(turns) // 2))
    if len(edges) < 3:
        return None
    weight = np.add.reduceat(turns, edges[:-1])
    period = np.add.reduceat(period_s, edges[:-1]) / weight
    weight = weight / weight.sum()
    mean, b = float(weight @ period), len(period)
    off = period - mean
    # Beside a mean of their own, b independent batches correlate by -1/b.
    squares = float(off @ off)
    r = float(off[1:] @ off[:-1]) / squares + 1.0 / b if squares > 0 else 0.0
    r = min(max(r, 0.0), _MOST_CORRELATED)
    u = sqrt(float(weight @ off**2) / (b - 1) * (1 + r) / (1 - r))
    return Measured(mean, u, max((b - 1) * (1 - r * r) / (1 + r * r), 1.0))


def _edges(turns: FloatArray, batches: int) -> IntArray:
    """Where batches of about equal turns begin, and the end (batches + 1,); fewer where laps are longer than one."""
    upto = np.cumsum(turns) / turns.sum()
    inner = np.searchsorted(upto, np.arange(1, max(batches, 1)) / max(batches, 1), side="left") + 1
    return np.unique(np.concatenate(([0], inner, [len(turns)]))).astype(np.int64)


def trend(laps: Laps) -> Measured | None:
    """Change of the cadence in turns per second per second, from batches; None when the batches are too few."""
    edges = _edges(laps.turns, min(_TREND_BATCHES, len(laps.turns) // 2))
    if len(edges) < 4:
        return None
    seconds = np.add.reduceat(laps.period_s, edges[:-1])
    cadence = np.add.reduceat(laps.turns, edges[:-1]) / seconds
    middle = np.add.reduceat((laps.start_s + 0.5 * laps.period_s) * laps.period_s, edges[:-1]) / seconds
    x = middle - middle.mean()
    slope = float(x @ cadence / (x @ x))
    left = cadence - cadence.mean() - slope * x
    dof = len(x) - 2
    return Measured(slope, sqrt(float(left @ left) / dof / float(x @ x)), float(dof))


def _runs(laps: Laps) -> tuple[RunCadence, ...]:
    found = []
    for run in np.unique(laps.run):
        mine = laps.run == run
        start, end = laps.start_s[mine], laps.start_s[mine] + laps.period_s[mine]
        turns = float(laps.turns[mine].sum())
        found.append(RunCadence(float(start[0]), float(end[-1]), turns, turns / float(laps.period_s[mine].sum())))
    return tuple(found)


def steadiness(parts: Sequence[Treadled]) -> Steadiness | None:
    """Steadiness of treadled parts; None for too few turns.

    The periods of all targets are pooled, each against the next passage of its own; filled passages are guesses.
    """
    period, begun = _joined([p.periods() for p in parts])
    step, step_begun = _joined([p.period_steps() for p in parts])
    targets = parts[0].targets
    if len(period) < _FEWEST_FOR_SCATTER * targets or len(step) < 2:
        return None
    turns = len(period) // targets
    blocks = min(max(turns // _BLOCK_TURNS, _FEWEST_BLOCKS), _MOST_BLOCKS, turns // 2)
    edges = np.quantile(begun, np.linspace(0, 1, blocks + 1)[1:-1])
    block, step_block = np.searchsorted(edges, begun, side="right"), np.searchsorted(edges, step_begun, side="right")
    overall = [scatter(period, targets)]
    quick = [turn_to_turn(step, period)]
    for b in range(len(edges) + 1):
        rest, step_rest = period[block != b], step[step_block != b]
        if len(rest) > targets and len(step_rest):
            overall.append(scatter(rest, targets))
            quick.append(turn_to_turn(step_rest, rest))
    drift = sqrt(max(overall[0] ** 2 - quick[0] ** 2, 0.0))
    return Steadiness(_jackknifed(overall), drift, _jackknifed(quick))


def scatter(period_s: FloatArray, targets: int = 1) -> float:
    """Coefficient of variation of period_s (n,); of several targets' turns, which overlap, n/targets count."""
    own = len(period_s) / targets
    return float(period_s.std() * sqrt(own / (own - 1)) / period_s.mean())


def turn_to_turn(step_s: FloatArray, period_s: FloatArray) -> float:
    """The part of the coefficient of variation that changes from one turn to the next: step_s (m,), period_s (n,)."""
    return float(sqrt(0.5 * float(np.mean(step_s**2))) / period_s.mean())


def _jackknifed(values: Sequence[float]) -> Measured:
    """values[0] with the uncertainty from the others, each without one block."""
    rest = np.array(values[1:])
    b = len(rest)
    if b < 2:
        return Measured(values[0], values[0], 1.0)
    return Measured(values[0], sqrt((b - 1) / b * float(((rest - rest.mean()) ** 2).sum())), float(b - 1))


def _joined(pairs: Sequence[tuple[FloatArray, FloatArray]]) -> tuple[FloatArray, FloatArray]:
    return np.concatenate([p[0] for p in pairs]), np.concatenate([p[1] for p in pairs])
