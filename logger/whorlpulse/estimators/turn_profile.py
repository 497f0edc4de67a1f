"""The wheel's speed within a turn, with the flyer as an encoder on the wheel.

The band couples both shafts, so within one wheel turn the flyer's advance tells the wheel's angle. Each lap is
normalised: theta, the part of the lap's flyer turns made, and tau, the part of its time gone. The ratio is rarely
whole, so over many laps the flyer's passages fall on every theta. D(theta) = tau - theta is periodic and is fitted by

    D = sum over h of a_h (cos 2 pi h theta - 1) + b_h sin 2 pi h theta,      speed / mean = 1 / (1 + dD/dtheta).

The fit to D, rather than speeds between passages, loses nothing to the distance between two passages. Uneven targets
don't show: their angles are estimated beforehand (`conditioning.targets`), and a flyer target falls on every theta.
The flyer's turns at the lap's ends lie between two passages; after the first fit they are read off on the scale on
which the usual treadling is even, and the fit is made again.

Uncertainty: least squares with errors that belong together lap by lap (the sandwich of Liang and Zeger, Biometrika 73
(1986) 13, from memory). The band's creep follows the push within the turn, so what is told is strictly the flyer's
speed over the ratio; `_BAND_U` stands for the difference. Refuses with fewer than `FEWEST_LAPS` laps, or when the flyer
passes at the same few angles in every lap (a `ProfileGap` says which).
Validated against the simulated wheel's true speed by angle (tests/estimators/test_cadence_profile.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, pi, sqrt
from typing import Literal

import numpy as np

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.laps import Treadled
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.speed_shape import Shape, speed_at, swing, valleys
from whorlpulse.phase import shaft_turns, turns_at
from whorlpulse.pulses import FLYER, FloatArray, IntArray

#: Angles at which the profile is told.
ANGLES = 24
#: Laps needed before a profile is told, and laps for each order of it.
FEWEST_LAPS = 12
_LAPS_PER_ORDER = 6
_HIGHEST_ORDER = 6
_ORDERS_PER_PASSAGE = 0.6
_ROUNDS = 3
#: Within a turn the band's creep rises and falls with the push, by some tenths of a per cent (simulated; no source).
_BAND_U = 0.002
#: A lap this many robust deviations off (a stall, a burst of slip) is not the usual treadling.
_OUTLIER = 5.0
#: Between two passages the flyer's turns are known no better than this, however even the treadling.
_FINEST = 2e-3

ProfileGap = Literal["no-flyer", "coarse", "few-laps", "same-angles"]


@dataclass(frozen=True)
class ProfilePoint:
    """Speed relative to the mean at a wheel angle, turns past the first target."""

    wheel_angle_turns: float
    speed: Measured


@dataclass(frozen=True)
class TurnProfile:
    """The usual turn. points: speed at even angles. swing: fastest less slowest, relative to the mean.

    slow (m,), ascending: angles in turns of the slowest place and of others that are surely slow places by themselves.
    fastest: angle of the fastest place. sure: whether the swing stands out of its noise. orders: highest harmonic that
    the log can tell. by_order (orders,): speed amplitude of each, relative to the mean. laps: how many were folded.
    """

    points: tuple[ProfilePoint, ...]
    swing: Measured
    slow: tuple[float, ...]
    fastest: float
    sure: bool
    orders: int
    by_order: tuple[float, ...]
    laps: int


@dataclass(frozen=True)
class Folded:
    """Flyer passages inside laps: lap (n,), theta (n,), tau (n,); laps m, those left out, too."""

    lap: IntArray
    theta: FloatArray
    tau: FloatArray


def turn_profile(log: Conditioned, parts: Sequence[Treadled]) -> TurnProfile | ProfileGap:
    """Fold the treadled parts of a log; see the module's head. A text instead says why there is no profile."""
    if FLYER in log.coarse or any(p.coarse for p in parts):
        return "coarse"
    if not any(len(p.stretch.flyer) > FEWEST_LAPS for p in parts):
        return "no-flyer"
    folded = _fold_all(log, parts, None)
    laps = len(np.unique(folded.lap))
    if laps < FEWEST_LAPS:
        return "few-laps"
    orders = min(_HIGHEST_ORDER, laps // _LAPS_PER_ORDER, _orders_told(folded))
    if orders < 1:
        return "same-angles"
    shape = fit_shape(folded, orders)
    for _ in range(_ROUNDS - 1):
        folded = _fold_all(log, parts, shape)
        shape = fit_shape(folded, orders)
    return _described(shape)


def _orders_told(folded: Folded) -> int:
    """The highest order for which the largest gap between folded passages is half a wave at most.

    Nor may it come near to the number of passages in a lap: those waves look like an error at the lap's start.
    """
    ordered = np.sort(folded.theta)
    gap = float(np.diff(np.append(ordered, ordered[0] + 1.0)).max())
    number = np.bincount(folded.lap)
    in_a_lap = float(np.quantile(number[number > 0], 0.1))
    return int(min(0.5 / gap + 1e-9, _ORDERS_PER_PASSAGE * in_a_lap))


def _fold_all(log: Conditioned, parts: Sequence[Treadled], shape: Shape | None) -> Folded:
    lap, theta, tau, before = [np.empty(0, np.int64)], [np.empty(0)], [np.empty(0)], 0
    for p in parts:
        flyer = p.stretch.flyer
        starts, sound = p.t_s[:: p.targets], ~p.filled[:: p.targets]
        if len(starts) < 2 or len(flyer) < 2:
            continue
        turns = shaft_turns(flyer, log.angles[FLYER]).since(0)
        at_start = turns_at(flyer, log.angles[FLYER], starts)
        if shape is not None:
            at_start = np.where(np.isfinite(at_start), _on_even_scale(starts, flyer.t_s, turns, shape), np.nan)
        made = np.diff(at_start)
        good = sound[:-1] & sound[1:] & np.isfinite(made)
        good[good] = _ordinary(made[good])
        k = np.searchsorted(starts, flyer.t_s, side="right") - 1
        inside = (k >= 0) & (k < len(made)) & ~flyer.filled
        inside[inside] &= good[k[inside]]
        k, t, y = k[inside], flyer.t_s[inside], turns[inside]
        lap.append(before + k)
        theta.append((y - at_start[k]) / made[k])
        tau.append((t - starts[k]) / np.diff(starts)[k])
        before += len(starts)
    return Folded(np.concatenate(lap), np.concatenate(theta), np.concatenate(tau))


def _ordinary(made: FloatArray) -> np.ndarray:
    """Which laps made about the usual flyer turns: whorls may change between runs, so by part, not over the log."""
    if len(made) < FEWEST_LAPS:
        return np.ones(len(made), bool)
    off = np.abs(made - np.median(made))
    ordinary: np.ndarray = off <= _OUTLIER * max(1.4826 * float(np.median(off)), _FINEST)
    return ordinary


def _on_even_scale(at_s: FloatArray, knot_s: FloatArray, turns: FloatArray, shape: Shape) -> FloatArray:
    """Flyer turns at the laps' starts at_s (n,): straight between passages on the scale of the usual wheel angle."""
    k = np.clip(np.searchsorted(at_s, knot_s, side="right") - 1, 0, len(at_s) - 2)
    tau = (knot_s - at_s[k]) / np.diff(at_s)[k]
    grid = np.linspace(-1.0, 2.0, 3 * 240 + 1)
    angle = k + np.interp(tau, grid + shape.deviation(grid), grid)
    return np.interp(np.arange(len(at_s)), angle, turns)


def fit_shape(folded: Folded, orders: int) -> Shape:
    """Fit D to folded passages, leave out laps that stand out of the rest, and fit again."""
    first = _fit(folded, orders)
    left = (folded.tau - folded.theta - first.deviation(folded.theta)) ** 2
    number = np.bincount(folded.lap)
    rms = np.sqrt(np.bincount(folded.lap, left) / np.maximum(number, 1))
    seen = number > 0
    far = rms > _OUTLIER * np.median(rms[seen])
    if not far[seen].any():
        return first
    kept = ~far[folded.lap]
    return _fit(Folded(folded.lap[kept], folded.theta[kept], folded.tau[kept]), orders)


def _fit(folded: Folded, orders: int) -> Shape:
    wave = 2 * pi * np.arange(1, orders + 1) * folded.theta[:, None]
    x = np.hstack((np.cos(wave) - 1.0, np.sin(wave)))
    d = folded.tau - folded.theta
    bread = np.linalg.pinv(x.T @ x)
    c = bread @ (x.T @ d)
    score = x * (d - x @ c)[:, None]
    _, lap = np.unique(folded.lap, return_inverse=True)
    laps = int(lap.max()) + 1
    by_lap = np.zeros((laps, 2 * orders))
    np.add.at(by_lap, lap, score)
    covariance = bread @ (by_lap.T @ by_lap) @ bread * laps / max(laps - 2 * orders, 1)
    return Shape(c[:orders], c[orders:], covariance, laps)


def _described(shape: Shape) -> TurnProfile:
    at = np.arange(ANGLES) / ANGLES
    speed, u = speed_at(shape, at)
    noise = sqrt(float(np.mean(u**2)))
    slow, fastest, height = swing(shape)
    height = Measured(height.value, hypot(height.u, sqrt(2.0) * _BAND_U), height.dof)
    # Pure noise of a few waves swings by about four of its deviations; six is no chance.
    sure = height.value > 6.0 * noise
    amplitude = 2 * pi * np.arange(1, shape.orders + 1) * np.hypot(shape.a, shape.b)
    return TurnProfile(
        points=tuple(
            ProfilePoint(float(x), Measured(float(v), hypot(float(s), _BAND_U), shape.dof))
            for x, v, s in zip(at, speed, u, strict=True)
        ),
        swing=height,
        slow=tuple(valleys(shape, max(0.25 * height.value, 4.0 * noise))) if sure else (slow,),
        fastest=fastest,
        sure=sure,
        orders=shape.orders,
        by_order=tuple(float(x) for x in amplitude),
        laps=shape.laps,
    )
