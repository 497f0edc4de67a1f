"""The yarn: twist builds while a length is drafted, then that length winds on to the bobbin.

All of it hangs on the flyer's turns, not on time: a draw ends when the flyer has put the wanted turns into it.
So the twist of each draw is exact, and turns are conserved whatever the wheel does.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from whorlpulse.pulses import FloatArray

from .path import Path

_SHORTEST = 0.3  # no draw is shorter than this share of the shortest one wanted


@dataclass(frozen=True)
class OffPlan:
    """A stretch of the yarn, in metres from its start, with another twist than the plan's."""

    from_m: float
    to_m: float
    twist_tpm: float


@dataclass(frozen=True)
class Yarn:
    """What is spun. scatter: standard deviation of the twist from draw to draw, as a share.

    draw_m: shortest and longest draw. winding_s: about how long winding-on takes. With continuous take-up a
    "draw" is a piece over which the twist stays the same; parked is one draw from run to run (`draws_parked`).
    bobbin_m: diameter of the empty bobbin; bobbin_growth_m: by how much its square grows for each metre of
    yarn (m² per m).
    """

    twist_tpm: float
    tolerance_percent: float = 10.0
    draw_m: tuple[float, float] = (0.4, 0.6)
    scatter: float = 0.03
    winding_s: float = 0.9
    take_up: Literal["draws", "continuous", "parked"] = "draws"
    off_plan: tuple[OffPlan, ...] = field(default=())


@dataclass(frozen=True)
class Draws:
    """The draws in order: flyer turns since the start at which each begins to wind on and ends, and lengths.

    winding_from (n,), end (n,) turns; length_m (n,). A draw begins where its predecessor ends.
    """

    winding_from: FloatArray
    end: FloatArray
    length_m: FloatArray
    continuous: bool

    @property
    def start(self) -> FloatArray:
        """Flyer turns at which each draw begins, (n,)."""
        return np.concatenate([[0.0], self.end[:-1]])

    @property
    def from_m(self) -> FloatArray:
        """Length of yarn before each draw in metres, (n,)."""
        return np.concatenate([[0.0], np.cumsum(self.length_m)[:-1]])

    @property
    def total_m(self) -> float:
        """Length of all draws in metres."""
        return float(self.length_m.sum())

    def wound(self, turns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the length (m) wound on when the flyer has made `turns` (n,), and its slope in m per turn."""
        i = np.minimum(np.searchsorted(self.end, turns, side="right"), len(self.end) - 1)
        span = self.end[i] - self.winding_from[i]
        u = np.clip((turns - self.winding_from[i]) / span, 0.0, 1.0)
        if self.continuous:
            part, slope = u, np.where((u >= 0.0) & (u < 1.0), 1.0, 0.0)
        else:
            part, slope = u * u * (3.0 - 2.0 * u), 6.0 * u * (1.0 - u)
        return self.from_m[i] + self.length_m[i] * part, self.length_m[i] * slope / span


def planned_draws(
    yarn: Yarn, flyer_per_s: float, turns: float, rng: np.random.Generator, *, quickest: float, lag: float = 0.0
) -> Draws:
    """Return draws for at least `turns` flyer turns, at about flyer_per_s turns a second.

    quickest: flyer turns that winding on one metre takes at least. lag: turns by which the flyer falls behind its
    usual ones for each metre that winds on. Raises ValueError for a twist so low that a draw could not be taken up in
    its own turns.
    """
    begun, ends, lengths, done, at_m = [], [], [], 0.0, 0.0
    while done < turns + 1.0:
        length = _draw_length(yarn, at_m, rng)
        twist = _twist_at(yarn, at_m) * (1.0 + yarn.scatter * float(np.clip(rng.standard_normal(), -3, 3)))
        wanted = twist * length
        winding = max(yarn.winding_s * flyer_per_s - lag * length, quickest * length)
        if yarn.take_up == "continuous":
            winding = wanted
        elif winding > 0.95 * wanted:
            raise ValueError(
                f"a draw of {length:.2f} m at {twist:.0f} turns per metre leaves no time to wind on: "
                "give more twist, a shorter winding_s or a thicker bobbin"
            )
        begun.append(done + wanted - winding)
        done += wanted
        at_m += length
        ends.append(done)
        lengths.append(length)
    return Draws(np.array(begun), np.array(ends), np.array(lengths), yarn.take_up == "continuous")


def _twist_at(yarn: Yarn, at_m: float) -> float:
    for stretch in yarn.off_plan:
        if stretch.from_m - 1e-9 <= at_m < stretch.to_m - 1e-9:
            return stretch.twist_tpm
    return yarn.twist_tpm


def _draw_length(yarn: Yarn, at_m: float, rng: np.random.Generator) -> float:
    """Return the next draw's length; draws end where an off-plan stretch begins or ends."""
    shortest, longest = yarn.draw_m
    length = float(rng.uniform(shortest, longest))
    for border in sorted(x for s in yarn.off_plan for x in (s.from_m, s.to_m)):
        left = border - at_m
        if 1e-9 < left < length:
            return left
        if length <= left < length + _SHORTEST * shortest:
            return left
    return length


def taken_up(draws: Draws, flyer: Path) -> Path:
    """Return the length taken up against time: `turns` are metres here, `speed` metres per second.

    Yarn that is on the bobbin stays there when the flyer is turned back.
    """
    furthest = np.maximum.accumulate(flyer.turns)
    length, slope = draws.wound(furthest - flyer.turns[0])
    ahead = (flyer.turns >= furthest) & (flyer.speed > 0.0)
    speed = np.where(ahead, slope * flyer.speed, 0.0)
    # no more than thrice the rise on either side keeps the cubics from overshooting (Fritsch and Carlson 1980)
    rises = np.diff(length) / np.diff(flyer.t_s)
    most = 3.0 * np.minimum(np.append(rises, rises[-1]), np.insert(rises, 0, rises[0]))
    return Path(flyer.t_s, length, np.minimum(speed, most))
