"""Which shaft the band drives, and how the other one follows: the three tensions.

Let w be wheel turns, F the flyer's and B the bobbin's, and W the turns wound on.

    flyer-led (scotch)     the band drives the flyer, F = R w; the braked bobbin falls behind it, B = F − W
    bobbin-led (irish)     the band drives the bobbin, B = R w; the braked flyer falls behind it, F = B − W
    double drive           the band drives both, the bobbin by the smaller whorl: Rb > Rf. While nothing is wound on
                           the yarn ties both together, so on one of the whorls the band must slip.

In double drive the excess (Rb − Rf) w − W is slipped away. Where a share g of it moves the flyer (its whorl lets the
band slip ahead) and the rest holds the bobbin back, F = Rf w + g ((Rb − Rf) w − W) and B = F + W. All three are thus

    F + g W = R w,    R = Rf + g (Rb − Rf)

with g = 0 flyer-led, g = 1 bobbin-led: the left side is what the band drives, here called the driven shaft.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from whorlpulse.pulses import FloatArray

from .bobbin import Winding
from .path import Path
from .yarn import Draws, taken_up

Tension = Literal["scotch", "irish", "double-drive"]
#: Winding-on takes at least this many times the turns that it would take at an even pace: its pace swells to 1.5.
_SWELLING = 1.6
#: While the braked flyer of a bobbin-led wheel hardly turns it still makes this many turns for each one wound on.
_LEAST_FLYER = 0.5
_PER_WINDING = 64  # nodes within each winding-on at which the driven shaft is tabled
_NEWTON_STEPS = 6


@dataclass(frozen=True)
class Shafts:
    """flyer and bobbin as they turn, and length: its `turns` are metres taken up."""

    flyer: Path
    bobbin: Path
    length: Path


def quickest_winding(tension: Tension, ratio: float, excess: float) -> float:
    """Return the flyer turns that each turn wound on takes at least.

    ratio: of the flyer's whorl. excess: what the bobbin's own whorl makes more in double drive, where W cannot grow
    faster than excess times the wheel's turns, during which the flyer makes `ratio` times those.
    """
    if tension == "double-drive":
        return _SWELLING * ratio / excess
    return _SWELLING if tension == "scotch" else _LEAST_FLYER


def driven_turns(draws: Draws, winding: Winding, give: float, flyer_turns: FloatArray) -> FloatArray:
    """Return F + g W (n,) for the flyer's turns F (n,) since the start."""
    length, _ = draws.wound(flyer_turns)
    driven: FloatArray = flyer_turns + give * winding.wound(length)
    return driven


def shafts(driven: Path, draws: Draws, winding: Winding, tension: Tension, give: float) -> Shafts:
    """Return what flyer, bobbin and yarn do while the driven shaft turns as it does.

    Yarn that is on the bobbin stays there when the wheel is turned back; both shafts then turn back together.
    """
    flyer = driven if give == 0.0 else _following(driven, draws, winding, give)
    length = taken_up(draws, flyer)
    wound, rate = winding.wound(length.turns), length.speed * winding.per_metre(length.turns)
    sign = 1.0 if tension == "scotch" else -1.0
    return Shafts(flyer, flyer.minus(sign * wound, sign * rate), length)


def _following(driven: Path, draws: Draws, winding: Winding, give: float) -> Path:
    """Return the flyer's path where F + g W is given: solved node by node."""
    furthest = np.maximum.accumulate(driven.turns) - driven.turns[0]
    flyer = _solved(furthest, draws, winding, give)
    length, slope = draws.wound(flyer)
    ahead = driven.turns - driven.turns[0] >= furthest
    speed = np.where(ahead, driven.speed / (1.0 + give * slope * winding.per_metre(length)), driven.speed)
    return Path(driven.t_s, driven.turns - furthest + flyer, speed)


def _solved(driven_turns_made: FloatArray, draws: Draws, winding: Winding, give: float) -> FloatArray:
    """Return F (n,) with F + g W(F) = driven_turns_made (n,): a table's cell, then Newton inside it."""
    u = np.linspace(0.0, 1.0, _PER_WINDING + 1)
    inside = draws.winding_from[:, None] + (draws.end - draws.winding_from)[:, None] * u
    node = np.concatenate([[0.0], np.unique(inside.ravel())])
    table = driven_turns(draws, winding, give, node)
    cell = np.clip(np.searchsorted(table, driven_turns_made, side="right") - 1, 0, len(node) - 2)
    low, high = node[cell], node[cell + 1]
    flyer: FloatArray = np.interp(driven_turns_made, table, node)
    for _ in range(_NEWTON_STEPS):
        length, slope = draws.wound(flyer)
        over = flyer + give * winding.wound(length) - driven_turns_made
        flyer = np.clip(flyer - over / (1.0 + give * slope * winding.per_metre(length)), low, high)
    return flyer
