"""Missed pulses of the take-up roller: lone waits of two or three usual ones between sound ones.

While yarn goes in, the roller's waits change gently from one to the next, so a wait of twice what its two neighbours
make likely is a missed pulse. But a hand that falters makes long waits too, of any length. So it is counted how many
stand out by about a whole number and how many by anything between: only where the whole ones are many times as many is
the sensor to blame, and only then is anything put in. With w the wait and v the geometric mean of its neighbours (one
that is itself twice the wait beyond it counts half),

    w/v within 1.7 to 2.35 or 2.6 to 3.4: whole       1.3 to 1.67 or 2.37 to 2.58: in between

Where more than a tenth of the waits are long, that is the rhythm of short draws. A pulse missed at the very beginning
or end of a take-up shows nowhere: with V of the N passages such that their loss would have been seen, and m that were
put in, about m (N − V)/V more were missed (`unseen`). Validated in tests/conditioning/test_roller_mending.py against
simulated take-ups.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from whorlpulse.conditioning.counted import Counted
from whorlpulse.pulses import FloatArray, IntArray

_TWO, _THREE = (1.7, 2.35), (2.6, 3.4)
_BETWEEN = ((1.3, 1.67), (2.37, 2.58))
#: Neighbours that differ by more belong to a start, a stop or a hand.
_ALIKE = 1.8
#: So many whole ones for each in between, and at least so many of them.
_DECOYS, _FEWEST = 4.0, 3
#: A sensor that missed more would hardly be used; short draws make more.
_MOST = 0.1


@dataclass(frozen=True)
class Missed:
    """Waits in which pulses were missed: their numbers (k,), and how many pulses in each (k,), 1 or 2."""

    wait: IntArray
    pulses: IntArray


def missed_in(waits_s: FloatArray) -> tuple[Missed, int]:
    """Return the waits (n,), seconds, that look like missed pulses, and how many stand out by anything between."""
    if len(waits_s) < 3:
        return Missed(np.empty(0, np.int64), np.empty(0, np.int64)), 0
    before = np.append(waits_s[:1], _halved(waits_s[1:-2], waits_s[:-3]))
    after = np.append(_halved(waits_s[2:-1], waits_s[3:]), waits_s[-1:])
    times = _times(before, waits_s[1:-1], after)
    two, three, *between = ((times > low) & (times < high) for low, high in (_TWO, _THREE, *_BETWEEN))
    found = np.flatnonzero(two | three)
    return Missed(found + 1, 1 + three[found].astype(np.int64)), sum(int(np.count_nonzero(b)) for b in between)


def _halved(neighbour: FloatArray, beyond: FloatArray) -> FloatArray:
    """Neighbouring waits (n,), by half where they seem to hold a missed pulse too; beyond (n,): the next ones."""
    twice: FloatArray = np.where(
        (neighbour > _TWO[0] * beyond) & (neighbour < _TWO[1] * beyond), 0.5 * neighbour, neighbour
    )
    return twice


def _times(before: FloatArray, wait: FloatArray, after: FloatArray) -> FloatArray:
    """How many times the wait is what its neighbours make likely, (n,) each; NaN where these are not alike."""
    with np.errstate(divide="ignore", invalid="ignore"):
        times: FloatArray = wait / np.sqrt(before * after)
    return np.where(np.maximum(before, after) < _ALIKE * np.minimum(before, after), times, np.nan)


def unseen(pieces: Sequence[Counted]) -> tuple[float, float]:
    """Return how many passages were missed beside those put in, and its standard uncertainty; 0 without any put in."""
    put_in = sum(int(c.filled.sum()) for c in pieces)
    passages = sum(len(c) for c in pieces)
    would_show = sum(_would_show(np.diff(c.t_s)) for c in pieces)
    if put_in == 0 or would_show == 0:
        return 0.0, 0.0
    more = put_in * max(passages - would_show, 0) / would_show
    return more, sqrt(more + more * more / put_in)  # Poisson's, and that of the share


def _would_show(waits_s: FloatArray) -> int:
    """How many passages, waits (n,) between them, would have been seen to be missing."""
    if len(waits_s) < 4:
        return 0
    times = _times(waits_s[:-3], waits_s[1:-2] + waits_s[2:-1], waits_s[3:])
    return int(np.count_nonzero((times > _TWO[0]) & (times < _TWO[1])))


def mend_roller(pieces: list[Counted]) -> list[Counted]:
    """Return the roller's unbroken counts, with missed passages put in if its sensor misses pulses."""
    told = [missed_in(np.diff(c.t_s)) for c in pieces]
    whole, between = sum(len(m.wait) for m, _ in told), sum(b for _, b in told)
    waits = sum(max(len(c) - 1, 0) for c in pieces)
    if not max(_FEWEST, _DECOYS * between) <= whole <= _MOST * waits:
        return pieces
    return [_filled(c, m) for c, (m, _) in zip(pieces, told, strict=True)]


def _filled(counted: Counted, missed: Missed) -> Counted:
    put_in = [
        counted.t_s[i] + (counted.t_s[i + 1] - counted.t_s[i]) * np.arange(1, k + 1) / (k + 1)
        for i, k in zip(missed.wait.tolist(), missed.pulses.tolist(), strict=True)
    ]
    if not put_in:
        return counted
    times = np.concatenate([counted.t_s, *put_in])
    filled = np.arange(len(times)) >= len(counted)
    order = np.argsort(times, kind="stable")
    return Counted(times[order], np.arange(len(times), dtype=np.int64), filled[order])
