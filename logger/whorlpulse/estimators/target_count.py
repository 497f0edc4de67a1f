"""How many targets a shaft really has, by what repeats: the gaps between them, and the rhythm of the feet.

Two independent witnesses:

* **Gaps.** Targets are never quite even. Steps d_n of the shaft, measured where its speed does not show (the wheel's in
  flyer turns), repeat after one turn: with e_k the upper quartile of |d_{n+k} − d_n|, e_k is small for k = N and
  its multiples only (a median could be small already when half of the gaps happen to be alike).
* **Rhythm.** Feet push once or twice a wheel turn, never more often. The flyer's speed, on the scale of counted wheel
  pulses u, has a line at 1/N or 2/N per pulse; R² of a sine and cosine fitted at 1/k over a whole stretch finds it. A
  drifting cadence has no line, because it keeps no phase over many turns.

Validated in tests/findings/test_target_count.py on simulated wheels whose log says a wrong number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import comb, sqrt
from typing import Final

import numpy as np

from whorlpulse.pulses import FloatArray

#: More targets than this are not looked for.
MOST_TARGETS: Final = 16
#: Periods of the pattern that are needed in the log before it is believed.
_FEWEST_PERIODS: Final = 6
_REPEATS: Final = 0.4  # e_k below this part of every e_j between the multiples of k: the gaps repeat
_UNEVEN: Final = 0.05  # gaps that differ by less than this part of a gap are even, or hidden by the interpolation
_ORDER: Final = 8
_UNEVEN_TIMES: Final = 0.005  # part of an interval: smaller deviations are not worth a word
_FOLLOWS: Final = 0.6  # share of the eighth differences' power that goes with the pulse's number
_LINE: Final = 0.2  # R² of a line that the feet make
_NO_LINE: Final = 0.05
_FEWEST_IN_PERIOD: Final = 2.5  # fast pulses in one period of a rhythm, or it would be seen under another's name


def repeating_gaps(gap: FloatArray) -> int | None:
    """Return after how many gaps their pattern repeats, or None when they are even or nothing repeats.

    gap (n,): advance of the shaft from pulse to pulse in any unit in which its speed does not show.
    """
    usual = float(np.median(gap)) if len(gap) else 0.0
    most = min(MOST_TARGETS, len(gap) // _FEWEST_PERIODS)
    if most < 2 or usual <= 0.0:
        return None
    misfit = np.array([float(np.percentile(np.abs(gap[k:] - gap[:-k]), 75.0)) / usual for k in range(1, most + 1)])
    if misfit[0] < _UNEVEN:
        return None
    for k in range(2, most + 1):
        between = min(m for j, m in enumerate(misfit.tolist(), start=1) if j % k)
        if misfit[k - 1] < _REPEATS * between and misfit[k - 1] < 2.0 * misfit.min() + 0.1 * _UNEVEN:
            return k
    return None


def repeating_times(t_s: FloatArray, lines: Sequence[float]) -> int | None:
    """Return after how many pulses at t_s (n,) their gaps repeat, 2 to 4, for a shaft that no other one measures.

    The motion is taken out by the 8th difference; what is left must follow the pulse's number modulo k. lines: periods
    a pulse at which the feet may leave something themselves (multiples of wheel turns a pulse); a pattern that
    could be one of these is not told. None when even, when nothing repeats, or below a hundred pulses.
    """
    if len(t_s) < 100:
        return None
    z = np.diff(t_s, _ORDER)
    spread = float(z @ z)
    noise = float(np.median(np.diff(t_s))) * _UNEVEN_TIMES * sqrt(comb(2 * _ORDER, _ORDER))
    for k in range(2, 5):
        likeness = [abs((line - j / k + 0.5) % 1.0 - 0.5) for line in lines for j in range(1, k)]
        if min(likeness, default=1.0) * len(z) < 3.0:
            continue
        label = np.arange(len(z)) % k
        mean = np.bincount(label, z) / np.bincount(label)
        share = float(np.sum(mean[label] ** 2)) / spread if spread > 0.0 else 0.0
        if share > _FOLLOWS and float(np.abs(mean).max()) > noise:
            return k
    return None


@dataclass(frozen=True)
class Rhythm:
    """R² of the lines that the feet leave in a shaft's speed: line[k - 1] at once in k counted pulses, (16,).

    twice: R² at twice per pulse.
    """

    line: FloatArray
    twice: float

    def at(self, pulses: float) -> float:
        """R² of the line that comes once in so many pulses; 0 where none was looked for (beyond 16, not whole)."""
        if pulses == 0.5:
            return self.twice
        return float(self.line[int(pulses) - 1]) if 1 <= pulses <= MOST_TARGETS and pulses == int(pulses) else 0.0

    @property
    def pulses_a_push(self) -> int | None:
        """The longest rhythm that stands out, in counted pulses; None when none does, or one more than once a pulse."""
        clear = np.flatnonzero(self.line >= _LINE)
        return int(clear[-1]) + 1 if len(clear) else None

    def fits(self, targets: int) -> bool:
        """Tell whether a push comes once or twice in so many pulses, or nothing can be said against it."""
        return max(self.at(targets), self.at(targets / 2)) > _NO_LINE or self.pulses_a_push is None


def treadle_rhythm(fast_t_s: FloatArray, counted_t_s: FloatArray) -> Rhythm | None:
    """Find the rhythm of the feet in the speed of a fast shaft, on the scale of another shaft's counted pulses.

    fast_t_s (n,), counted_t_s (m,): times of debounced pulses of one stretch. The scale runs straight in fast pulses
    from each counted pulse to the next. None with fewer than six counted pulses or 24 fast ones.
    """
    inside = (fast_t_s >= counted_t_s[0]) & (fast_t_s <= counted_t_s[-1]) if len(counted_t_s) else np.zeros(0, bool)
    if len(counted_t_s) < _FEWEST_PERIODS or inside.sum() < 24:
        return None
    t = fast_t_s[inside]
    index = np.arange(len(t), dtype=float)
    at_counted = np.interp(counted_t_s, t, index)
    keep = np.diff(at_counted, prepend=-1.0) > 0
    u = np.interp(index[:-1] + 0.5, at_counted[keep], np.flatnonzero(keep).astype(float))
    speed = -np.log(np.diff(t))
    speed -= np.median(speed)
    np.clip(speed, -0.7, 0.7, out=speed)  # a missed or doubled pulse must not outweigh the feet
    most = min(MOST_TARGETS, len(counted_t_s) // _FEWEST_PERIODS)
    density = len(t) / len(counted_t_s)
    line = np.zeros(MOST_TARGETS)
    for k in range(1, most + 1):
        if k * density >= _FEWEST_IN_PERIOD:
            line[k - 1] = _share(speed, u, 1.0 / k)
    return Rhythm(line, _share(speed, u, 2.0) if density >= 2.0 * _FEWEST_IN_PERIOD else 0.0)


def _share(speed: FloatArray, u: FloatArray, per_pulse: float) -> float:
    """R² of a sine and cosine at so many periods a pulse."""
    angle = 2.0 * np.pi * per_pulse * u
    basis = np.stack([np.cos(angle), np.sin(angle), np.ones(len(u))], axis=1)
    q, _ = np.linalg.qr(basis)
    centred = speed - speed.mean()
    total = float(centred @ centred)
    return float(np.sum((q.T @ centred) ** 2) / total) if total > 0.0 else 0.0
