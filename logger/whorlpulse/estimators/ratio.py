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
from whorlpulse.estimators.counted_lines import can_be_fitted, counted_drift
from whorlpulse.estimators.level_series import Drift, NoiseMix, TimingPrior, drift, noise_mix
from whorlpulse.estimators.measured import Measured, quotient, weighted_sum
from whorlpulse.estimators.sensor_timing import timing_prior
from whorlpulse.estimators.step_spectrum import Spectrum, spectrum
from whorlpulse.estimators.wheel_steps import Piece, Series, pieces_at_speed, series_of
from whorlpulse.pulses import WHEEL

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


def estimate_ratio(log: Conditioned, tick_hz: float, tie_u_s: float = 0.0) -> RatioEstimate:
    """Estimate the ratio of a conditioned log; see `RatioEstimate`.

    tie_u_s: standard uncertainty of the flyer's clock against the wheel's in seconds, where they have two.
    """
    angles = log.angles[WHEEL]
    targets = len(angles.angle)
    pieces = pieces_at_speed(log, targets)
    if WHEEL in log.coarse:
        return _from_counts(pieces, angles, tie_u_s)
    by_run = {run: [p for p in pieces if p.run == run] for run in sorted({p.run for p in pieces})}
    series = {run: series_of(mine, targets) for run, mine in by_run.items()}
    all_data = spectrum([s for one in series.values() for s in one.common], targets)
    if all_data is None:
        return RatioEstimate(None, 0.0, 0.0, (), ())
    shared = noise_mix(all_data, timing_prior(log, pieces, tick_hz))
    alone = len(by_run) == 1  # then the run's data and noise are the whole log's, and need no working out again
    runs = []
    for run, mine in by_run.items():
        data = all_data if alone else spectrum(series[run].common, targets)
        own = None if alone else timing_prior(log, mine, tick_hz)
        made = _drift(mine, series[run], data, targets, shared, own)
        if made is not None:
            runs.append(_run(mine, angles, made))
    return _summed(runs)


def _drift(
    pieces: Sequence[Piece],
    series: Series,
    data: Spectrum | None,
    targets: int,
    shared: NoiseMix,
    timing: TimingPrior | None,
) -> Drift | None:
    """The run's drift, with its outstanding steps counted in; None for less than two whole turns of ordinary steps.

    data: of its ordinary steps. timing: what the sensors show in this run; None where the shared mix is this run's.
    """
    if data is None or data.steps < 2 * targets:
        return None
    mix = shared if timing is None or data.steps < _OWN_NOISE_STEPS * targets else noise_mix(data, timing)
    found = drift(data, mix, targets)
    if len(series.outliers) == 0:
        return found
    # Next to a burst the steps are no ordinary ones either, so that the drift would smooth part of its loss away. The
    # count from end to end knows nothing of that, and of timing only its ends': no worse than bursts added one by one.
    turns = (data.steps + series.left_out) / targets
    ends = float(mix.weight @ (mix.sigma2 * (1.0 + mix.unseen * mix.lam)))
    u = float(np.sqrt(2 * len(pieces) * ends)) / turns
    counted = sum(float(p.y[-1] - p.y[0]) for p in pieces)
    return Drift(Measured(counted / turns, u, found.made.dof), found.expected)


def _run(pieces: Sequence[Piece], angles: Angles, found: Drift) -> RunRatio:
    turns = [p.wheel_turns(angles) for p in pieces]
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


def _from_counts(pieces: Sequence[Piece], angles: Angles, tie_u_s: float) -> RatioEstimate:
    """The same where the wheel's lines stand for several turns."""
    runs = []
    for run in sorted({p.run for p in pieces}):
        mine = [p for p in pieces if p.run == run and can_be_fitted(p, angles)]
        if mine:
            runs.append(_run(mine, angles, counted_drift(mine, angles, tie_u_s)))
    return _summed(runs)


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
