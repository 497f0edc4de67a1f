"""The spinner's foot: it keeps a cadence, but wanders slowly and from turn to turn."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

_BLOCK = 512


@dataclass(frozen=True)
class Foot:
    """How the wheel is treadled.

    treadles: 1 or 2 pushes a wheel turn. sharpness: a push follows sin(crank angle)^sharpness; more is more
    of a stamp. imbalance: with two treadles, by which share one foot is stronger. wander: standard deviation
    of the slow change of the cadence aimed at (a share of it), with correlation time wander_s. turn_scatter:
    standard deviation of the push from turn to turn (share). eagerness: which share of an error in speed the
    foot tries to make good within one turn. hand_start_nm: torque of the hand that starts the wheel.
    brake_nm: torque of the foot that stops it. strongest_nm: the most mean torque that the foot gives.
    ripple: only for prescribed motion, the amplitude of the speed within a turn (share of the mean).
    """

    treadles: int = 1
    sharpness: float = 1.5
    imbalance: float = 0.1
    wander: float = 0.03
    wander_s: float = 20.0
    turn_scatter: float = 0.15
    eagerness: float = 0.5
    hand_start_nm: float = 0.8
    brake_nm: float = 0.25
    strongest_nm: float = 2.0
    ripple: float = 0.10

    def __post_init__(self) -> None:
        if self.treadles not in (1, 2):
            raise ValueError(f"treadles is {self.treadles}: a wheel has 1 or 2")


def push_scale(sharpness: float, treadles: int) -> float:
    """Return the peak of a push sin(θ)^p (half a turn a treadle) whose mean over the whole turn is 1.

    The mean of sin^p over its half turn is Γ((p+1)/2) / (√π Γ(p/2 + 1)).
    """
    half_turn = math.gamma(0.5 * (sharpness + 1.0)) / (math.sqrt(math.pi) * math.gamma(0.5 * sharpness + 1.0))
    return 2.0 / (half_turn * treadles)


def wandering(foot: Foot, turn_s: float, rng: np.random.Generator) -> Iterator[tuple[float, float]]:
    """Yield for each wheel turn (share by which the aimed cadence is off, share by which the push is off).

    turn_s: about how long a turn takes. The first is an Ornstein-Uhlenbeck walk sampled once a turn.
    """
    keep = math.exp(-turn_s / foot.wander_s)
    kick = foot.wander * math.sqrt(1.0 - keep * keep)
    slow = foot.wander * float(rng.standard_normal())
    while True:
        for a, b in rng.standard_normal((_BLOCK, 2)).tolist():
            slow = keep * slow + kick * a
            yield slow, foot.turn_scatter * b
