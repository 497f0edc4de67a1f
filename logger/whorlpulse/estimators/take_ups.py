"""When yarn goes in: the roller's passages (or the turns wound on) parted at its pauses.

Between two draws the roller stands while twist builds up; within one it turns. Its waits are thus of two kinds, and
the widest step in size between neighbours, waits sorted, parts them:

    threshold = √(w_k · w_{k+1}),  k = argmax w_{k+1} / w_k

Waits beyond a multiple of the usual one are all pauses and count alike, so that a rest of ten minutes does not hide
the pauses for drafting. Whether the parts are draws is decided by the twist: where draws are made, the flyer makes
much of its turns while the roller stands; where yarn goes in all the time, it makes hardly any. Refused (None) when
there are too few passages or when the waits are of one kind.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.pulses import FloatArray, IntArray

#: A pause is longer than any wait within a take-up by at least this factor.
_PAUSE_TIMES = 2.0
#: Waits longer than so many usual ones are pauses, however long.
_SURE_PAUSE = 30.0
#: The usual wait is the median of those below so many quick ones (pauses and missed pulses stay out).
_QUICK = 4.0
_FEWEST = 4
#: Where the flyer makes less than this share of its turns while the roller stands, there are no draws.
_SHARE_OF_DRAFTING = 0.25
#: A take-up of so much less than the usual one is a twitch of the roller and goes with the next one.
_TWITCH = 0.12
#: Beyond the last passage the roller makes half a gap more, on average. At even speed that takes half the wait before
#: it, and 1/(√3 − 1) = 1.37 of it from or to rest at even acceleration.
_BEYOND = 1.0


@dataclass(frozen=True)
class TakeUps:
    """Take-ups in order of time, m of them. first, last (m,): indices of their passages; a twitch is in the next one.

    begin_s, end_s (m,): when the yarn began to go in, and was in.
    """

    first: IntArray
    last: IntArray
    begin_s: FloatArray
    end_s: FloatArray


def usual_wait_s(waits_s: FloatArray) -> float:
    """Return the usual wait within a take-up in seconds; 0 if there are none. waits_s (n,): all of them, above 0."""
    if len(waits_s) == 0:
        return 0.0
    quick = float(np.percentile(waits_s, 25, method="lower"))
    return float(np.median(waits_s[waits_s <= _QUICK * quick]))


def pause_s(waits_s: FloatArray) -> float:
    """Return the wait in seconds that parts turning from standing, or 0 when waits_s (n,) are of one kind."""
    kept = waits_s[waits_s > 0]
    usual = usual_wait_s(kept)
    size = np.sort(np.minimum(kept, _SURE_PAUSE * usual))
    size = size[size >= usual]
    if len(kept) < _FEWEST or len(size) < 2:
        return 0.0
    step = size[1:] / size[:-1]
    widest = int(np.argmax(step))
    return float(np.sqrt(size[widest] * size[widest + 1])) if step[widest] >= _PAUSE_TIMES else 0.0


def take_ups(t_s: FloatArray, flyer_turns: FloatArray) -> TakeUps | None:
    """Return the take-ups of passages at t_s (n,), or None when the yarn goes in without pauses for drafting.

    flyer_turns (n,): the flyer's turns at the passages; only differences count, and NaN where they are not known.
    """
    if len(t_s) < _FEWEST:
        return None
    waits = np.diff(t_s)
    pause = pause_s(waits)
    if not pause:
        return None
    stands = waits > pause
    made = np.diff(flyer_turns)
    if np.nansum(made[stands]) < _SHARE_OF_DRAFTING * np.nansum(made):
        return None
    last = np.append(np.flatnonzero(stands), len(t_s) - 1)
    first = np.concatenate(([0], last[:-1] + 1))
    usual = usual_wait_s(waits[waits > 0])
    begin, end = _ends(t_s, first, last, usual)
    real = last - first + 1 > _TWITCH * np.median(last - first + 1)
    real[-1] = True
    return TakeUps(first[real], last[real], begin[real], end[real])


def _ends(t_s: FloatArray, first: IntArray, last: IntArray, usual: float) -> tuple[FloatArray, FloatArray]:
    """When each take-up began and was in: half a gap beyond its passages, and never into its neighbour."""
    waits = np.diff(t_s)
    several = last > first
    longest = _QUICK * usual
    lead = np.where(several, waits[np.minimum(first, len(waits) - 1)], usual)
    tail = np.where(several, waits[np.maximum(last - 1, 0)], usual)
    begin = t_s[first] - _BEYOND * np.minimum(lead, longest)
    end = t_s[last] + _BEYOND * np.minimum(tail, longest)
    between = 0.5 * (t_s[last[:-1]] + t_s[first[1:]])
    begin[1:] = np.maximum(begin[1:], between)
    end[:-1] = np.minimum(end[:-1], between)
    return begin, end
