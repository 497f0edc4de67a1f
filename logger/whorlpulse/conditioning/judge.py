"""The wheel judges the flyer's count.

Between two wheel targets the flyer makes a nearly constant part of a turn. A remainder of whole flyer targets is a
miscount; a repair that leaves one, or that the wheel doesn't need, is taken back. What the wheel shows to be lost
in any other amount is slip, and stays.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.conditioning.repair import Repair, odd_places, stories
from whorlpulse.conditioning.running_median import running_median_9
from whorlpulse.pulses import FloatArray, IntArray

_WHOLE = 0.3  # a remainder this near to a whole number of targets is one
_NOTHING = 0.2  # a remainder smaller than this is none
_LOOSELY_ODD = (1.2, 0.85)  # where the wheel says that something is wrong, smaller oddities count
_MOST_MISFIT = 4.0  # a story told only because the wheel asks for it must place the pulses well
_REMAINDER_SD = 0.2  # of a passage, between two wheel targets
_MOST_DEARER = 20.0  # cost of a standing repair that no story of the place gives any more


@dataclass(frozen=True)
class Remainders:
    """Flyer passages left over between neighbouring wheel passages at t_s (n,): left_over (n-1,)."""

    t_s: FloatArray
    passage: IntArray
    left_over: FloatArray


def remainders(flyer: Counted, wheel: Counted, wheel_targets: int) -> Remainders | None:
    """Compare the flyer's advance over each wheel gap with its running median over like gaps; None if too few."""
    y = monotone_cubic(flyer.t_s, flyer.passage.astype(float), wheel.t_s)
    seen = np.isfinite(y) & ~wheel.filled
    times, passage, y = wheel.t_s[seen], wheel.passage[seen], y[seen]
    if len(y) < 6 * wheel_targets:
        return None
    advance = np.diff(y)
    left_over = np.zeros(len(advance))
    single = np.diff(passage) == 1
    for c in range(wheel_targets):
        members = np.flatnonzero(single & (passage[:-1] % wheel_targets == c))
        if len(members) >= 3:
            left_over[members] = advance[members] - running_median_9(advance[members])
    return Remainders(times, passage, left_over)


def odd_windows(found: Remainders) -> list[tuple[float, float, float]]:
    """Windows (from_s, to_s, left over) with something left over.

    Neighbouring ones go together, since a wheel pulse may fall inside a faulty place.
    """
    odd = np.flatnonzero(np.abs(found.left_over) > _NOTHING)
    parts = np.split(odd, np.flatnonzero(np.diff(odd) > 1) + 1)
    return [
        (float(found.t_s[p[0]]), float(found.t_s[p[-1] + 1]), float(found.left_over[p[0] : p[-1] + 1].sum()))
        for p in parts
        if len(p)
    ]


def judged(t_s: FloatArray, x: FloatArray, repairs: list[Repair], found: Remainders, sd: float) -> list[Repair]:
    """Return the flyer's repairs as the wheel sees them; pulses at t_s (n,), on the scale in use at x (n,) with the deviation
    sd of places on it.
    """
    usual = running_median_9(np.diff(x))
    windows = odd_windows(found)
    places = odd_places(x, usual, *_LOOSELY_ODD, ends=True) if windows else []
    for from_s, to_s, left_over in windows:
        here = [r for r in repairs if r.net and t_s[r.left] < to_s and t_s[r.right] > from_s]
        unneeded = [r for r in here if abs(left_over) > _WHOLE and abs(left_over - r.net) <= abs(left_over) + 0.05]
        whole = round(left_over)
        if unneeded:
            repairs = [r for r in repairs if r is not unneeded[0]]
        elif whole and abs(left_over - whole) <= _WHOLE:
            inside = [(i, j) for i, j in places if t_s[i] < to_s and t_s[j] > from_s]
            repairs = _retold(x, usual, repairs, inside, whole, sd)
    return repairs


def _retold(
    x: FloatArray,
    usual: FloatArray,
    repairs: list[Repair],
    places: list[tuple[int, int]],
    too_many: int,
    sd: float,
) -> list[Repair]:
    """Take passages away (too_many > 0) or put them in (< 0), at the likeliest of the places.

    One place may settle only a part; the rest costs as a misfit of the wheel, and the next round sees it.
    """
    sign = 1 if too_many > 0 else -1
    choices = []
    for left, right in places:
        standing = [r for r in repairs if r.left < right and left < r.right]
        now = sum(r.net for r in standing)
        wanted = [now - sign * k for k in range(1, abs(too_many) + 1)]
        told = stories(x, usual, left, right, sd, wanted)
        cost_now = told[now].cost if now in told else _MOST_DEARER
        for rest, net in enumerate(wanted, start=1 - abs(too_many)):
            if net in told and told[net].misfit < _MOST_MISFIT:
                dearer = told[net].cost - cost_now + (rest / _REMAINDER_SD) ** 2
                choices.append((dearer, standing, told[net].repair))
    if not choices:
        return repairs
    _, replaced, repair = min(choices, key=lambda c: c[0])
    kept = [r for r in repairs if not any(r is other for other in replaced)]
    if repair.extra or repair.filled:
        kept.append(repair)
    return sorted(kept, key=lambda r: r.left)
