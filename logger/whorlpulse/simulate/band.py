"""The drive band: creep by its stretch, the limit of its grip, and losses that a test may prescribe."""

from __future__ import annotations

import math
from dataclasses import dataclass, field


@dataclass(frozen=True)
class SlipBurst:
    """A sudden loss put in on purpose: `lost_turns` flyer turns during `duration_s` from `at_s` on."""

    at_s: float
    lost_turns: float
    duration_s: float = 0.3


@dataclass(frozen=True)
class PeriodicLoss:
    """A loss that comes and goes `per_wheel_turn` times a wheel turn.

    The lost share of the speed is mean + amplitude·cos(2π·per_wheel_turn·wheel angle). A wheel out of true
    has per_wheel_turn 1 and mean 0; a bad joint has the band's order and a mean above 0.
    """

    per_wheel_turn: float
    amplitude: float
    mean: float = 0.0


@dataclass(frozen=True)
class Band:
    """The band as a belt under tension.

    stiffness_n: force per unit strain (E·A). tension_n: F0, half the sum of both strands' tensions.
    grip_static, grip_sliding: friction coefficients; wrap_rad: how far the band lies around the flyer's whorl.
    slip_noise: standard deviation of the random loss over one wheel turn, in flyer turns.
    """

    thickness_m: float = 0.0025
    length_m: float = 2.11
    stiffness_n: float = 90.0
    tension_n: float = 7.0
    grip_static: float = 0.35
    grip_sliding: float = 0.30
    wrap_rad: float = 2.7
    slip_noise: float = 0.0
    bursts: tuple[SlipBurst, ...] = field(default=())
    periodic: tuple[PeriodicLoss, ...] = field(default=())

    def no_slip_ratio(self, wheel_diameter_m: float, whorl_diameter_m: float) -> float:
        """Return flyer turns per wheel turn without slip, (D + t) / (d + t): the band runs on its middle."""
        return (wheel_diameter_m + self.thickness_m) / (whorl_diameter_m + self.thickness_m)

    def per_wheel_turn(self, wheel_diameter_m: float) -> float:
        """Return how often the band goes round in one wheel turn, π (D + t) / L."""
        return math.pi * (wheel_diameter_m + self.thickness_m) / self.length_m


def creep(pull_n: float, stiffness_n: float, tension_n: float) -> float:
    """Return the share of the speed lost by creep when the strands' tensions differ by pull_n newtons.

    A belt that leaves the driving pulley tight and the driven one slack carries the same mass per second on
    both, so N2/N1 = (D/d) (E + σ2)/(E + σ1), σ1 the tight and σ2 the slack side. With tensions F0 ± pull/2
    the lost share is pull / (E·A + F0 + pull/2).
    """
    return pull_n / (stiffness_n + tension_n + 0.5 * pull_n)


def largest_pull(tension_n: float, grip: float, wrap_rad: float) -> float:
    """Return the largest difference of tensions in newtons that friction holds.

    Euler and Eytelwein: tight/slack ≤ e^(μθ); with tensions F0 ± pull/2 that is pull ≤ 2 F0 tanh(μθ/2).
    """
    return 2.0 * tension_n * math.tanh(0.5 * grip * wrap_rad)
