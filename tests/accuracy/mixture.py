"""The mixed set of simulated logs on which intervals are judged, and how often they cover.

Half the logs are mechanical (foot, inertia, creep, grip), half kinematic (a prescribed motion at exactly the ratio);
ratio 4 to 24, cadence 45 to 80 a minute, 60 to 90 s, jitter 20 µs to 1 ms, both evenly in the logarithm; a third
without slip noise, the others 0.001 to 0.05 flyer turns a wheel turn; 1, 2 or 4 wheel targets, 1 or 2 on the flyer;
three in ten end without a stop. Every second log spins a yarn, its length from a roller that is wrong by up to the
rounding of its printed length, or from length lines rounded to the centimetre and entered late (half-normal, 0.5 s:
what the estimate takes for usual).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from tests.accuracy.trial import Trial, trial, true_total_ratio, true_twist_tpm

from whorlpulse.estimators.measured import Measured
from whorlpulse.simulate import Band, Foot, Marks, Roller, Scenario, Sensor, Stop, Treadling, Yarn

_ROLLER_ROUNDING = 5e-4  # 10.00 cm is sure to ± 0.005 cm


@dataclass(frozen=True)
class Covered:
    """One log's interval: whether it held the truth; how far off it was, in its u; its half width, relative."""

    seed: int
    held: bool
    off_u: float
    half_width: float
    groups: frozenset[str]


def _even(n: int) -> tuple[float, ...]:
    return tuple(i / n for i in range(n))


def mixed(seed: int, *, yarn: bool) -> Scenario:
    """Return the log number `seed` of the set."""
    rng = np.random.default_rng([41, seed])

    def spread(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    ratio, jitter_s = spread(4.0, 24.0), spread(20e-6, 1e-3)
    motion = "mechanical" if seed % 2 else "kinematic"
    slip = 0.0 if rng.random() < 1 / 3 else spread(0.001, 0.05)
    cadence, lasts_s = float(rng.uniform(45.0, 80.0)), float(rng.uniform(60.0, 90.0))
    wheel, flyer = int(rng.choice([1, 1, 2, 4])), int(rng.choice([1, 1, 2]))
    stops = bool(rng.random() < 0.7)
    foot = Foot(treadles=int(rng.integers(1, 3)), sharpness=float(rng.uniform(1.0, 2.2)), ripple=spread(0.03, 0.2))
    by_roller = bool(rng.random() < 0.5)
    error = float(rng.uniform(-_ROLLER_ROUNDING, _ROLLER_ROUNDING))
    late_s = 0.5 * abs(float(rng.standard_normal()))
    twist_tpm = float(rng.uniform(25.0, 45.0)) * ratio
    sensors = [Sensor("w", _even(wheel), jitter_s=jitter_s), Sensor("f", _even(flyer), jitter_s=jitter_s)]
    if yarn and by_roller:
        sensors.append(Sensor("y", _even(4), width=0.05))
    spun = lasts_s - 1.5 - (4.0 if stops else 0.0)
    phases = [Stop(1.5), Treadling(spun, cadence, ratio=ratio)] + ([Stop(4.0)] if stops else [])
    return Scenario(
        f"mixed-{seed}",
        "one of the set for coverage",
        tuple(phases),
        motion=motion,
        band=Band(slip_noise=slip),
        foot=foot,
        yarn=Yarn(twist_tpm) if yarn else None,
        roller=Roller(error=error) if yarn and by_roller else None,
        marks=Marks(late_s=late_s) if yarn and not by_roller else None,
        sensors=tuple(sensors),
    )


def groups_of(case: Scenario) -> frozenset[str]:
    """Return what kinds of log this is, for coverage by kind."""
    jitter_s, slip = case.sensors[0].jitter_s, case.band.slip_noise
    passages = next(p.ratio for p in case.phases if isinstance(p, Treadling)) * len(case.sensors[1].angles)
    return frozenset(
        (
            case.motion,
            "jitter < 80 µs" if jitter_s < 80e-6 else "jitter < 300 µs" if jitter_s < 300e-6 else "jitter < 1 ms",
            "no slip" if slip == 0.0 else "slip < 0.01" if slip < 0.01 else "slip < 0.05",
            "ends at a stop" if isinstance(case.phases[-1], Stop) else "ends turning",
            f"{len(case.sensors[0].angles)} on the wheel",
            "nearly whole" if abs(passages - round(passages)) < 0.1 else "not whole",
            "yarn by roller" if case.roller else "yarn by lines" if case.marks else "no yarn",
        )
    )


def ratio_covered(seed: int) -> Covered:
    """Judge the interval of one log's ratio; the log of an uneven pair of seeds spins a yarn."""
    found = trial(mixed(seed, yarn=seed % 4 >= 2), seed)
    estimate = found.ratio()
    assert estimate.ratio is not None
    return _judged(seed, found, estimate.ratio, true_total_ratio(found, estimate))


def twist_covered(seed: int) -> Covered:
    """Judge the interval of one log's mean twist."""
    found = trial(mixed(seed, yarn=True), seed)
    said = found.twist()
    return _judged(seed, found, said.twist, true_twist_tpm(found.truth, said))


def _judged(seed: int, found: Trial, said: Measured, true: float) -> Covered:
    return Covered(
        seed,
        said.low <= true <= said.high,
        (said.value - true) / said.u,
        said.half_width / true,
        groups_of(found.truth.scenario),
    )


def shares(judge: Callable[[int], Covered], seeds: Iterable[int]) -> tuple[list[Covered], dict[str, tuple[int, int]]]:
    """Judge many logs: each one, and for each group how many of how many were covered ("all" among them)."""
    every = [judge(seed) for seed in seeds]
    names = ["all", *sorted(set().union(*(c.groups for c in every)))]
    mine = {name: [c for c in every if name == "all" or name in c.groups] for name in names}
    return every, {name: (sum(c.held for c in some), len(some)) for name, some in mine.items()}
