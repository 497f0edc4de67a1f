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
from whorlpulse.estimators.level_series import (
    Drift,
    NoiseMix,
    Spectrum,
    Steps,
    TimingPrior,
    drift,
    noise_mix,
    spectrum,
)
from whorlpulse.estimators.measured import Measured, quotient, weighted_sum
from whorlpulse.estimators.timing_noise import timing_noise
from whorlpulse.phase import wheel_passages_in_flyer_turns
from whorlpulse.pulses import FLYER, WHEEL, BoolArray, FloatArray, IntArray

#: Whole wheel turns needed before a ratio is said.
FEWEST_TURNS = 5
#: A run with at least so many steps tells its own noise; a shorter one borrows the whole log's.
_OWN_NOISE_STEPS = 12
#: A step this many robust deviations off is no noise (a Gaussian step is so once in 150,000).
_OUTLIER = 4.5
_FEWEST_FOR_OUTLIERS = 8
#: A wheel runs at speed while it makes this part of its usual one, and changes it by less than this (in ln) a step.
_AT_SPEED, _STEADY = 0.6, 0.2
_END_TURNS = 3
#: Timing of an ordinary sensor and board, known within a decade (measured on the reference board: under 10 µs; magnets
#: and marks add to it: common practice, no source).
_LIKELY_JITTER_S = 30e-6
_MORE_THAN_FLYER = 1.3
#: Where the flyer's pulses tell their timing, it is known within so many decades; where the feet hide it, what they
#: leave is mostly the feet's, by about this factor (simulated treadling).
_SAID_WIDTH = 0.15
_HIDDEN_BY = 2.0
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

    def at_speed(self, targets: int, *, starts: bool, ends: bool) -> _Piece:
        """The same without both ends, where the wheel starts up or runs down (starts, ends: whether the run does here).

        There the flyer makes few pulses in much change of speed: its angle between them is a guess, and so is a missed
        one. So ends whose steps stand out go too: whether it was the band or the guess can't be told.
        """
        if len(self.t_s) < 4:
            return self
        step = np.diff(self.y)
        speed = step / np.diff(self.t_s)
        fast = speed >= _AT_SPEED * np.median(speed)
        steady = np.abs(np.diff(np.log(np.maximum(speed, 1e-9)))) < _STEADY
        good = np.flatnonzero(fast[:-1] & fast[1:] & steady)
        if len(good) == 0:
            return self
        first, last = int(good[0]), int(good[-1]) + 2
        # Feet that set in or a brake that bites bend the curve of the turn next to them.
        first += targets if starts else 0
        last -= targets if ends else 0
        off = np.flatnonzero(_outstanding(step, self.passage[:-1] % targets, targets))
        near = _END_TURNS * targets
        for i in off:
            if i < first + near:
                first = max(first, int(i) + 1)
            elif i >= last - near:
                last = min(last, int(i))
        return self._cut(first, max(last, first))

    def whole_turns(self, targets: int) -> _Piece | None:
        """The same from the first passage to the last one of the same target; None for less than a turn.

        Within a turn the loss is uneven, so that parts of a turn would blur what "the ratio" is.
        """
        same = np.flatnonzero((self.passage - self.passage[:1]) % targets == 0)
        return self._cut(0, int(same[-1])) if len(same) > 1 else None

    def _cut(self, first: int, last: int) -> _Piece:
        kept = slice(first, last + 1)
        return _Piece(self.run, self.t_s[kept], self.y[kept], self.passage[kept])


@dataclass(frozen=True)
class _Series:
    """A run's steps, parted into those that share one noise and the few that stand out of it.

    common: pieces of ordinary steps. outliers (m,): how far each outstanding step lies from the ordinary one: bursts of
    slip and the loss of a hard start. They are no noise; they are counted as they were.
    """

    common: tuple[Steps, ...]
    outliers: FloatArray


def estimate_ratio(log: Conditioned, tick_hz: float) -> RatioEstimate:
    """Estimate the ratio of a conditioned log; see `RatioEstimate`."""
    angles = log.angles[WHEEL]
    targets = len(angles.angle)
    pieces = _pieces(log, targets)
    if WHEEL in log.coarse:
        return _from_counts(pieces, angles)
    by_run = {run: [p for p in pieces if p.run == run] for run in sorted({p.run for p in pieces})}
    series = {run: _series(mine, targets) for run, mine in by_run.items()}
    all_data = spectrum([s for one in series.values() for s in one.common], targets)
    if all_data is None:
        return RatioEstimate(None, 0.0, 0.0, (), ())
    timing = [_timing(log, mine, tick_hz) for mine in by_run.values()]
    shared = noise_mix(all_data, _timing(log, pieces, tick_hz))
    runs = []
    for (run, mine), own in zip(by_run.items(), timing, strict=True):
        made = _drift(series[run], targets, shared, own)
        if made is not None:
            runs.append(_run(mine, angles, made))
    return _summed(runs)


def _pieces(log: Conditioned, targets: int) -> list[_Piece]:
    """The stretches' wheel passages at speed, in whole turns."""
    seen = wheel_passages_in_flyer_turns(log, log.stretches)
    covered = [_Piece(s.run, *passages) for s, passages in zip(log.stretches, seen, strict=True)]
    covered = [p for p in covered if len(p.t_s)]
    found = []
    for i, p in enumerate(covered):
        starts = i == 0 or covered[i - 1].run != p.run
        ends = i == len(covered) - 1 or covered[i + 1].run != p.run
        found.append(p.at_speed(targets, starts=starts, ends=ends).whole_turns(targets))
    return [p for p in found if p is not None]


def _series(pieces: Sequence[_Piece], targets: int) -> _Series:
    """Cut the pieces into unbroken steps, and cut out the steps that stand out.

    A step stands out by more than `_OUTLIER` robust deviations from the median of its like (the same wheel target).
    """
    steps = [
        Steps(np.diff(p.y[part]), p.passage[part[:-1]] % targets)
        for p in pieces
        for part in np.split(np.arange(len(p.y)), np.flatnonzero(np.diff(p.passage) != 1) + 1)
        if len(part) > 1
    ]
    if not steps:
        return _Series((), np.empty(0))
    d = np.concatenate([s.d for s in steps])
    target = np.concatenate([s.target for s in steps])
    out = _outstanding(d, target, targets)
    off = np.array([d[i] - d[~out & (target == target[i])].mean() for i in np.flatnonzero(out)])
    bounds = np.cumsum([len(s.d) for s in steps])[:-1]
    common = []
    for own, out_here in zip(steps, np.split(out, bounds), strict=True):
        for part in np.split(np.arange(len(own.d)), np.flatnonzero(out_here)):
            kept = part[~out_here[part]]
            if len(kept):
                common.append(Steps(own.d[kept], own.target[kept]))
    return _Series(tuple(common), off)


def _deviation(d: FloatArray, target: IntArray, targets: int) -> FloatArray:
    """How far each step d (n,) lies from the median of those after the same wheel target."""
    medians = [np.median(d[target == j]) if (target == j).any() else 0.0 for j in range(targets)]
    deviation: FloatArray = d - np.array(medians)[target]
    return deviation


def _outstanding(d: FloatArray, target: IntArray, targets: int) -> BoolArray:
    """Which steps d (n,) stand out from those of the same wheel target."""
    none = np.zeros(len(d), bool)
    if len(d) < _FEWEST_FOR_OUTLIERS * targets:
        return none
    off = np.abs(_deviation(d, target, targets))
    # By the larger of two robust deviations, so that tails that are merely long stay part of the noise.
    scale = max(1.4826 * float(np.median(off)), float(np.quantile(off, 0.9)) / 1.645)
    out = off > _OUTLIER * scale
    enough = all((~out & (target == j)).any() for j in range(targets))
    return out if enough else none


def _timing(log: Conditioned, pieces: Sequence[_Piece], tick_hz: float) -> TimingPrior:
    """What the sensors show of their timing, as variance in flyer turns at these pieces' mean speed.

    Least: a stamp cut to whole ticks is uniform over one (GUM F.2.2.1: q/√12). Most: the flyer's own pulses, with those
    of the wheel taken to be like them, so that y carries about twice the variance of one pulse.
    """
    seconds = sum(float(p.t_s[-1] - p.t_s[0]) for p in pieces)
    turns = sum(float(p.y[-1] - p.y[0]) for p in pieces)
    speed2 = (turns / seconds) ** 2
    tick = 1 / tick_hz
    steps = sum(len(p.y) - 1 for p in pieces)
    passages = turns * len(log.angles[FLYER].angle) / max(steps, 1)
    runs = {p.run for p in pieces}
    own = timing_noise([s.flyer for s in log.stretches if s.run in runs], len(log.angles[FLYER].angle), tick)
    least = tick**2 / 12
    likely, width = _LIKELY_JITTER_S, 1.0
    if own.sigma_s is not None:
        likely, width = own.sigma_s, _SAID_WIDTH
    elif own.at_most_s is not None:
        likely, width = max(likely, own.at_most_s / _HIDDEN_BY), 0.5
    most = next((s for s in (own.sigma_s, own.at_most_s) if s is not None), 1.0)
    return TimingPrior(
        least=2 * speed2 * least,
        likely=2 * speed2 * max(least, likely**2),
        width=width,
        most=2 * speed2 * max(4 * least, (_MORE_THAN_FLYER * most) ** 2),
        unseen=1 / (6 * passages),
    )


def _drift(series: _Series, targets: int, shared: NoiseMix, timing: TimingPrior) -> Drift | None:
    """The run's drift, with its outstanding steps counted in; None for less than two whole turns of ordinary steps."""
    data = spectrum(series.common, targets)
    if data is None or data.steps < 2 * targets:
        return None
    mix = noise_mix(data, timing) if data.steps >= _OWN_NOISE_STEPS * targets else shared
    found = drift(data, mix, targets)
    m = len(series.outliers)
    if m == 0:
        return found
    # Per wheel turn: the ordinary drift over all steps, and what the outstanding ones lost or won beside it. Each is a
    # difference of two passages, so it brings twice the timing variance.
    turns = (data.steps + m) / targets
    sigma2 = float(mix.weight @ mix.sigma2)
    u = float(np.hypot(found.made.u, np.sqrt(2 * m * sigma2) / turns))
    made = Measured(found.made.value + float(series.outliers.sum()) / turns, u, found.made.dof)
    return Drift(made, found.expected)


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
