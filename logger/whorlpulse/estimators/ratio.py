"""The drive ratio: flyer turns per turn of the drive wheel.

Estimates the effective ratio of each run and of the whole log (total flyer turns over total wheel turns in the
counted pieces), and the ratio of each whorl. Equation and assumptions: `level_series`. Refuses below `FEWEST_TURNS`
whole wheel turns. Validated by simulated coverage (tests/accuracy) and the outside shaft pair (tests/authorities).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.conditioning.targets import Angles
from whorlpulse.estimators.level_series import Drift, NoiseMix, Spectrum, Steps, drift, noise_mix, spectrum
from whorlpulse.estimators.measured import Measured, quotient, weighted_sum
from whorlpulse.phase import wheel_passages_in_flyer_turns
from whorlpulse.pulses import WHEEL, FloatArray, IntArray

#: Whole wheel turns needed before a ratio is said.
FEWEST_TURNS = 5
#: A run with at least so many steps tells its own noise; a shorter one borrows the whole log's.
_OWN_NOISE_STEPS = 12
#: Runs whose ratios differ by more than this part, and surely so, were spun on different whorls: whorls of one
#: wheel differ by a tenth or more (common practice, no source), slip between runs seldom by this much.
_WHORL_STEP = 0.04


@dataclass(frozen=True)
class RunRatio:
    """One run: times in seconds since the log's first line, turns between its first and last counted passages."""

    start_s: float
    end_s: float
    ratio: Measured
    expected: Measured
    wheel_turns: float
    flyer_turns: float
    cadence_hz: float


@dataclass(frozen=True)
class WhorlRatio:
    """The ratio of one whorl: the runs spun on it, by index."""

    ratio: Measured
    runs: tuple[int, ...]


@dataclass(frozen=True)
class RatioEstimate:
    """All that a log says of its ratio. ratio is None when too few whole turns were counted."""

    ratio: Measured | None
    wheel_turns: float
    flyer_turns: float
    runs: tuple[RunRatio, ...]
    whorls: tuple[WhorlRatio, ...]


@dataclass(frozen=True)
class _Piece:
    """One stretch's wheel passages that the flyer covers."""

    run: int
    t_s: FloatArray
    y: FloatArray
    passage: IntArray

    def steps(self, targets: int) -> list[Steps]:
        """Its steps, cut where a passage is missing."""
        cuts = np.flatnonzero(np.diff(self.passage) != 1) + 1
        pieces = np.split(np.arange(len(self.y)), cuts)
        return [Steps(np.diff(self.y[p]), self.passage[p[:-1]] % targets) for p in pieces if len(p) > 1]


def estimate_ratio(log: Conditioned, tick_hz: float) -> RatioEstimate:
    """Estimate the ratio of a conditioned log; see `RatioEstimate`."""
    angles = log.angles[WHEEL]
    targets = len(angles.angle)
    pieces = [
        _Piece(s.run, *passages)
        for s, passages in zip(log.stretches, wheel_passages_in_flyer_turns(log, log.stretches), strict=True)
    ]
    pieces = [p for p in pieces if len(p.y) > targets]
    if WHEEL in log.coarse:
        return _from_counts(pieces, angles)
    all_data = spectrum([s for p in pieces for s in p.steps(targets)], targets)
    if all_data is None:
        return RatioEstimate(None, 0.0, 0.0, (), ())
    shared = noise_mix(all_data, _tick_variance(pieces, tick_hz))
    runs = []
    for run in sorted({p.run for p in pieces}):
        mine = [p for p in pieces if p.run == run]
        found = _run_ratio(mine, angles, shared, tick_hz)
        if found is not None:
            runs.append(found)
    return _summed(runs)


def _tick_variance(pieces: Sequence[_Piece], tick_hz: float) -> float:
    """Variance, in flyer turns squared, that the clock's tick alone gives a passage.

    A stamp cut to whole ticks is uniform over one tick (GUM F.2.2.1: q/√12), times the flyer's speed.
    """
    seconds = sum(float(p.t_s[-1] - p.t_s[0]) for p in pieces)
    turns = sum(float(p.y[-1] - p.y[0]) for p in pieces)
    return (turns / seconds / tick_hz) ** 2 / 12 if seconds > 0 else 0.0


def _run_ratio(pieces: Sequence[_Piece], angles: Angles, shared: NoiseMix, tick_hz: float) -> RunRatio | None:
    targets = len(angles.angle)
    data = spectrum([s for p in pieces for s in p.steps(targets)], targets)
    if data is None or data.steps < 2 * targets:
        return None
    own = data.steps >= _OWN_NOISE_STEPS * targets
    mix = noise_mix(data, _tick_variance(pieces, tick_hz)) if own else shared
    return _run(pieces, angles, drift(data, mix, targets))


def _run(pieces: Sequence[_Piece], angles: Angles, found: Drift) -> RunRatio:
    turns = [_wheel_turns(p, angles) for p in pieces]
    wheel_turns = sum(turns)
    seconds = sum(float(p.t_s[-1] - p.t_s[0]) for p in pieces)
    return RunRatio(
        start_s=float(pieces[0].t_s[0]),
        end_s=float(pieces[-1].t_s[-1]),
        ratio=found.made,
        expected=found.expected,
        wheel_turns=wheel_turns,
        flyer_turns=sum(float(p.y[-1] - p.y[0]) for p in pieces),
        cadence_hz=wheel_turns / seconds,
    )


def _wheel_turns(piece: _Piece, angles: Angles) -> float:
    whole, part = angles.turns(piece.passage[[0, -1]])
    return float(whole[1] - whole[0] + part[1] - part[0])


def _from_counts(pieces: Sequence[_Piece], angles: Angles) -> RatioEstimate:
    """Lines that stand for several turns: count end to end, and read the noise off the line's scatter.

    Between two lines neither shaft is seen, so the fit of a straight line to flyer turns against wheel turns is used,
    its residuals' scatter (with their correlation left in) telling the uncertainty.
    """
    runs = []
    for run in sorted({p.run for p in pieces}):
        mine = [p for p in pieces if p.run == run and len(p.y) >= 4]
        if not mine:
            continue
        series = [Steps(np.diff(p.y) - 0.0, np.zeros(len(p.y) - 1, np.int64)) for p in mine]
        found = _counted_drift(mine, angles, series)
        runs.append(_run(mine, angles, found))
    return _summed(runs)


def _counted_drift(pieces: Sequence[_Piece], angles: Angles, series: Sequence[Steps]) -> Drift:
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
    u = float(np.sqrt(residual @ residual / dof / (x @ x)))
    measured = Measured(slope, u, dof)
    return Drift(measured, measured)


def _summed(runs: Sequence[RunRatio]) -> RatioEstimate:
    wheel_turns = sum(r.wheel_turns for r in runs)
    flyer_turns = sum(r.flyer_turns for r in runs)
    total = _joint(runs) if runs and wheel_turns >= FEWEST_TURNS else None
    return RatioEstimate(total, wheel_turns, flyer_turns, tuple(runs), _whorls(runs))


def _joint(runs: Sequence[RunRatio]) -> Measured:
    """Runs weighted by their wheel turns: the ratio of all turns made."""
    turns = sum(r.wheel_turns for r in runs)
    return weighted_sum([r.ratio for r in runs], [r.wheel_turns / turns for r in runs])


def _whorls(runs: Sequence[RunRatio]) -> tuple[WhorlRatio, ...]:
    """Group the runs by ratio, ascending; a step of more than `_WHORL_STEP`, and surely so, begins a new whorl."""
    order = sorted(range(len(runs)), key=lambda i: runs[i].ratio.value)
    groups: list[list[int]] = []
    for i in order:
        if groups and not _steps_up(runs[groups[-1][-1]].ratio, runs[i].ratio):
            groups[-1].append(i)
        else:
            groups.append([i])
    return tuple(WhorlRatio(_joint([runs[i] for i in sorted(g)]), tuple(sorted(g))) for g in groups)


def _steps_up(lower: Measured, upper: Measured) -> bool:
    step = quotient(upper, lower)
    return step.value > 1 + _WHORL_STEP and step.value - 3 * step.u > 1


__all__ = ["FEWEST_TURNS", "RatioEstimate", "RunRatio", "Spectrum", "WhorlRatio", "estimate_ratio"]
