"""Logs whose noise is not the model's: made from exact motion, so that the truth is known to the tick.

    python tests/accuracy/other_noises.py [HOW_MANY]

prints how many of their intervals hold the truth.

The wheel turns once a second but for a foot that makes the speed swing by 10 %; one target each; stamps cut to 1 µs.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning import condition
from whorlpulse.estimators.ratio import RatioEstimate, estimate_ratio
from whorlpulse.pulses import FLYER, WHEEL, Rows
from whorlpulse.rig import Rig

RIG = Rig()


@dataclass(frozen=True)
class Made:
    """A log, and its true flyer turns (n,) at its wheel passages, which were at t_s (n,)."""

    rows: Rows
    t_s: np.ndarray
    flyer_turns: np.ndarray

    def estimate(self) -> RatioEstimate:
        """Return what the log says of its ratio."""
        return estimate_ratio(condition(self.rows, RIG), RIG.tick_hz)

    def error(self, said: RatioEstimate) -> float:
        """Return said ratio less the true one of the counted turns."""
        (run,) = said.runs
        begin_s = self.rows.tick[0] / RIG.tick_hz  # runs are told in seconds since the first line
        first, last = (int(np.abs(self.t_s - begin_s - t).argmin()) for t in (run.start_s, run.end_s))
        made = self.flyer_turns[last] - self.flyer_turns[first]
        return said.ratio.value - made / (last - first)


def log(
    rng: np.random.Generator,
    wheel_noise: Callable[[np.ndarray], np.ndarray],
    flyer_noise: Callable[[np.ndarray], np.ndarray],
    turns: int = 70,
    lost: Callable[[np.ndarray], np.ndarray] = np.zeros_like,
) -> Made:
    """Make a log. wheel_noise, flyer_noise: seconds, for passages at wheel turns (n,); lost: flyer turns by then."""
    fine = np.arange(0.0, turns, 0.005)
    t = fine - 0.1 / (2 * np.pi) * np.sin(2 * np.pi * fine)
    flyer_turns = rng.uniform(7.6, 8.9) * fine - lost(fine)
    wheel_at = np.arange(float(rng.random()), turns - 0.01)
    flyer_at = np.interp(np.arange(1.0, flyer_turns[-1]), flyer_turns, fine)
    stamped = []
    for at, noise, letter in ((wheel_at, wheel_noise, WHEEL), (flyer_at, flyer_noise, FLYER)):
        heard = 1.0 + np.interp(at, fine, t) + noise(at)
        stamped.append((heard, np.full(len(heard), letter)))
    heard = np.concatenate([h for h, _ in stamped])
    order = np.argsort(heard, kind="stable")
    letters = np.concatenate([c for _, c in stamped])[order].astype(np.uint8)
    rows = Rows(np.floor(heard[order] * 1e6).astype(np.int64), letters)
    return Made(rows, 1.0 + np.interp(wheel_at, fine, t), np.interp(wheel_at, fine, flyer_turns))


def white(rng: np.random.Generator, sd_s: float) -> Callable[[np.ndarray], np.ndarray]:
    """Independent errors."""
    return lambda at: sd_s * rng.standard_normal(len(at))


def sluggish(rng: np.random.Generator, sd_s: float, keep: float) -> Callable[[np.ndarray], np.ndarray]:
    """AR(1): each error keeps so much of the one before."""

    def noise(at: np.ndarray) -> np.ndarray:
        e = np.empty(len(at))
        e[0] = rng.standard_normal()
        for i in range(1, len(at)):
            e[i] = keep * e[i - 1] + np.sqrt(1 - keep * keep) * rng.standard_normal()
        return sd_s * e

    return noise


def locked(rng: np.random.Generator, size_s: float, sd_s: float) -> Callable[[np.ndarray], np.ndarray]:
    """Errors that come round with the treadle (a bench that shakes with the foot), and white ones."""
    phase = rng.uniform(0.0, 2 * np.pi, 2)
    shake = white(rng, sd_s)

    def noise(at: np.ndarray) -> np.ndarray:
        beat = np.sin(2 * np.pi * at + phase[0]) + 0.5 * np.sin(4 * np.pi * at + phase[1])
        return size_s * beat + shake(at)

    return noise


def drifting(rng: np.random.Generator, size: float) -> Callable[[np.ndarray], np.ndarray]:
    """Flyer turns lost: a ratio that drifts as a slow random walk, by some size (relative) over the run."""
    steps = rng.standard_normal(15)

    def lost(turned: np.ndarray) -> np.ndarray:
        rate = 8.0 * size * np.cumsum(steps) / np.sqrt(15.0)
        return np.interp(turned, np.linspace(0.0, 70.0, 15), np.cumsum(rate) * 70.0 / 15.0)

    return lost


KINDS: dict[str, Callable[[np.random.Generator], Made]] = {
    "half of an error lingers, both shafts": lambda rng: log(rng, sluggish(rng, 3e-4, 0.5), sluggish(rng, 3e-4, 0.5)),
    "half, the wheel alone": lambda rng: log(rng, sluggish(rng, 3e-4, 0.5), white(rng, 1e-4)),
    "four fifths, both shafts": lambda rng: log(rng, sluggish(rng, 3e-4, 0.8), sluggish(rng, 3e-4, 0.8)),
    "four fifths, the wheel alone": lambda rng: log(rng, sluggish(rng, 3e-4, 0.8), white(rng, 1e-4)),
    "locked to the treadle": lambda rng: log(rng, locked(rng, 3e-4, 1e-4), locked(rng, 3e-4, 1e-4)),
    "the ratio drifts by 0.03 %": lambda rng: log(rng, white(rng, 1e-4), white(rng, 1e-4), lost=drifting(rng, 3e-4)),
    "the ratio drifts by 2 %": lambda rng: log(rng, white(rng, 1e-4), white(rng, 1e-4), lost=drifting(rng, 0.02)),
}


def main() -> None:
    how_many = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    for kind, make in KINDS.items():
        held, over_u = 0, []
        for seed in range(how_many):
            made = make(np.random.default_rng([19, seed]))
            said = made.estimate()
            error = made.error(said)
            held += abs(error) <= said.ratio.half_width
            over_u.append(error / said.ratio.u)
        print(f"{kind:40s}{100 * held / how_many:6.0f} % held   error / u {np.sqrt(np.mean(np.square(over_u))):.2f}")


if __name__ == "__main__":
    main()
