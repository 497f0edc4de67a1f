"""The wheel judges the flyer's count.

Between two wheel targets the flyer makes a nearly constant part of a turn. A remainder of whole flyer targets is a
miscount; a repair that leaves one, or that the wheel doesn't need, is taken back. What the wheel shows to be lost
in any other amount is slip, and stays; what was missed or extra in its midst is read from the smoothness of the
flyer's pace there (`slip_mending`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.conditioning.repair import MOST_MISFIT, Repair, odd_places, stories, within_slip
from whorlpulse.conditioning.running_median import running_median_9, running_median_of_waits
from whorlpulse.conditioning.slip_shape import SlipShape
from whorlpulse.pulses import FloatArray

_WHOLE = 0.3  # a remainder this near to a whole number of targets is one
_SLIPPED = 0.4  # a remainder this far from any whole number is slip
_NOTHING = 0.2  # a remainder smaller than this is none
_LOOSELY_ODD = (1.2, 0.85)  # where the wheel says that something is wrong, smaller oddities count
_REMAINDER_SD = 0.2  # of a passage, between two wheel targets
_MOST_DEARER = 2.0  # the wheel's word may tip the scales, not turn them over: an evenly slowed flyer has slipped
_FAR_CHEAPER = 18.0  # a story so much likelier need not place its pulses well; no slip left alone costs so much
_FEWEST_TURNS = 6  # of the wheel, to know its usual gaps
_UNTOLD = 20.0  # cost of a standing repair that no story of the place gives any more


@dataclass(frozen=True)
class Remainders:
    """Flyer passages left over between neighbouring wheel passages at t_s (n,): left_over (n-1,)."""

    t_s: FloatArray
    left_over: FloatArray
    wheel_targets: int


def can_judge(wheel_passages: int, wheel_targets: int) -> bool:
    """Tell whether so many passages of a wheel with that many targets are enough to judge the flyer by."""
    return wheel_passages >= _FEWEST_TURNS * wheel_targets


def remainders(flyer: Counted, wheel: Counted, wheel_targets: int) -> Remainders | None:
    """Compare the flyer's advance over each wheel gap with its running median over like gaps; None if too few."""
    y = monotone_cubic(flyer.t_s, flyer.passage.astype(float), wheel.t_s)
    seen = np.isfinite(y) & ~wheel.filled
    times, passage, y = wheel.t_s[seen], wheel.passage[seen], y[seen]
    if not can_judge(len(y), wheel_targets):
        return None
    advance = np.diff(y)
    left_over = np.zeros(len(advance))
    single = np.diff(passage) == 1
    for c in range(wheel_targets):
        members = np.flatnonzero(single & (passage[:-1] % wheel_targets == c))
        if len(members) >= 3:
            left_over[members] = advance[members] - running_median_9(advance[members])
    return Remainders(times, left_over, wheel_targets)


@dataclass(frozen=True)
class OddWindow:
    """A time with flyer passages left over; with_margin: those of the gap before and after counted in."""

    from_s: float
    to_s: float
    left_over: float
    with_margin: float


def odd_windows(found: Remainders) -> list[OddWindow]:
    """Windows with something left over.

    Neighbouring ones go together, since a wheel pulse may fall inside a faulty place.
    """
    odd = np.flatnonzero(np.abs(found.left_over) > _NOTHING)
    parts = [p for p in np.split(odd, np.flatnonzero(np.diff(odd) > 1) + 1) if len(p)]
    total = np.concatenate(([0.0], np.cumsum(found.left_over)))
    last = len(found.left_over)
    return [
        OddWindow(
            float(found.t_s[p[0]]),
            float(found.t_s[p[-1] + 1]),
            float(total[p[-1] + 1] - total[p[0]]),
            float(total[min(p[-1] + 2, last)] - total[max(p[0] - 1, 0)]),
        )
        for p in parts
    ]


def judged(
    t_s: FloatArray,
    x: FloatArray,
    repairs: list[Repair],
    found: Remainders,
    sd: float,
    slip: SlipShape | None = None,
) -> list[Repair]:
    """Return the flyer's repairs as the wheel sees them.

    Pulses at t_s (n,) lie at x (n,) on the scale in use, on which places deviate by sd of an interval. slip: how a
    slip would look on it.
    """
    usual = running_median_of_waits(x)
    windows = odd_windows(found)
    places = odd_places(x, usual, *_LOOSELY_ODD, ends=True) if windows else []
    for window in windows:
        left_over, whole = window.left_over, round(window.left_over)
        here = [
            r
            for r in repairs
            if r.net and not r.slipping and t_s[r.left] < window.to_s and t_s[r.right] > window.from_s
        ]
        unneeded = [r for r in here if _unneeded(r.net, left_over)]
        inside = [(i, j) for i, j in places if t_s[i] < window.to_s and t_s[j] > window.from_s]
        # With several targets a slip lasts over several gaps, so those on either side belong to it.
        slipped = window.with_margin if found.wheel_targets > 1 else left_over
        if abs(left_over) > _WHOLE and unneeded:
            repairs = [r for r in repairs if r is not unneeded[0]]
        elif here and abs(slipped - round(slipped)) > _SLIPPED:
            repairs = _reread(x, usual, [r for r in repairs if r not in here], inside, slip)
        elif whole and abs(left_over - whole) <= _WHOLE:
            repairs = _retold(x, usual, repairs, inside, whole, sd, slip)
    return repairs


def _unneeded(net: int, left_over: float) -> bool:
    """Whether a repair that adds net passages is better taken back; a slip makes no pulse come too soon."""
    without = abs(left_over - net)
    return without <= (abs(left_over) + 0.05 if net > 0 else _WHOLE)


def _reread(
    x: FloatArray, usual: FloatArray, repairs: list[Repair], places: list[tuple[int, int]], slip: SlipShape | None
) -> list[Repair]:
    """Mend places where the band slipped by the smoothness of their intervals, if that can be told; else not at all."""
    if slip is None:
        return repairs
    free = [(i, j) for i, j in places if not any(r.left < j and i < r.right for r in repairs)]
    read = [(left, right, slip.read(x, usual, left, right)) for left, right in free]
    found = [within_slip(left, right, r.passages) for left, right, r in read if r.edits]
    return sorted([*repairs, *found], key=lambda r: r.left)


def _retold(
    x: FloatArray,
    usual: FloatArray,
    repairs: list[Repair],
    places: list[tuple[int, int]],
    too_many: int,
    sd: float,
    slip: SlipShape | None,
) -> list[Repair]:
    """Take passages away (too_many > 0) or put them in (< 0), at the likeliest of the places.

    One place may settle only a part; the rest costs as a misfit of the wheel, and the next round sees it.
    """
    sign = 1 if too_many > 0 else -1
    choices = []
    for left, right in places:
        standing = [r for r in repairs if r.left < right and left < r.right]
        if any(r.slipping for r in standing):
            continue
        now = sum(r.net for r in standing)
        wanted = [now - sign * k for k in range(1, abs(too_many) + 1)]
        told = stories(x, usual, left, right, sd, wanted, slip)
        cost_now = told[now].cost if now in told else _UNTOLD
        for rest, net in enumerate(wanted, start=1 - abs(too_many)):
            if net not in told:
                continue
            dearer = told[net].cost - cost_now
            if dearer < _MOST_DEARER and (told[net].misfit < MOST_MISFIT or dearer < -_FAR_CHEAPER):
                choices.append((dearer + (rest / _REMAINDER_SD) ** 2, standing, told[net].repair))
    if not choices:
        return repairs
    _, replaced, repair = min(choices, key=lambda c: c[0])
    kept = [r for r in repairs if not any(r is other for other in replaced)]
    if repair.extra or repair.filled:
        kept.append(repair)
    return sorted(kept, key=lambda r: r.left)
