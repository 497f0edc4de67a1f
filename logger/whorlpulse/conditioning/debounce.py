"""Contact and threshold bounce: pulses too soon after their predecessor to be another target.

The refractory time is tied to the running interval (a fixed one would eat real pulses of a fast flyer or pass
the bounce of a slow wheel).
"""

from __future__ import annotations

import numpy as np

from whorlpulse.conditioning.running_median import running_median_9, running_waits
from whorlpulse.pulses import BoolArray, FloatArray

#: Part of the running interval within which no second target can pass. Targets further apart than this part
#: of their mean spacing are never taken for bounce.
REFRACTORY_PART = 0.25


def bounced(t_s: FloatArray) -> BoolArray:
    """Return (n,) True for each pulse at t_s (n,) that is a bounce of the last one that counts."""
    flag = np.zeros(len(t_s), bool)
    if not _any_short(t_s):
        return flag
    interval = np.diff(t_s)
    if len(t_s) < 3:
        flag[1:] = interval <= 0
        return flag
    short = interval < REFRACTORY_PART * _usual(interval)
    # Many bounces pull the running interval down, so it is measured again without those found.
    for _ in range(3):
        if not short.any():
            break
        clean = np.concatenate(([True], ~short))
        index = np.cumsum(clean)[1:] - 2
        kept = np.diff(t_s[clean])
        if len(kept) == 0:
            break
        usual = _usual(kept)[np.clip(index, 0, len(kept) - 1)]
        since = t_s[1:] - t_s[clean][np.cumsum(clean)[:-1] - 1]
        again = since < REFRACTORY_PART * usual
        if (again == short).all():
            break
        short = again
    flag[1:] = short | (interval <= 0)
    return flag


def _any_short(t_s: FloatArray) -> bool:
    """Whether any interval is too short against the median around it: without one, nothing bounced."""
    for _, interval, usual in running_waits(t_s):
        usual *= REFRACTORY_PART
        if (interval < usual).any() or (interval <= 0).any():
            return True
    return False


def _usual(interval: FloatArray) -> FloatArray:
    """The running interval: the median of nine, where that finds (n,) too short no more than the nine's mean.

    Between two targets close together and a wide gap the median takes either for usual; the mean is their spacing.
    """
    usual = running_median_9(interval)
    odd = np.flatnonzero(interval < REFRACTORY_PART * usual)
    if len(odd):
        first, last = np.maximum(odd - 4, 0), np.minimum(odd + 5, len(interval))
        total = np.concatenate(([0.0], np.cumsum(interval)))
        usual[odd] = np.minimum(usual[odd], (total[last] - total[first]) / (last - first))
    return usual


def bounced_in_draws(t_s: FloatArray) -> BoolArray:
    """The same for a take-up roller, which turns in bursts between long pauses: (n,) True where bounced.

    Its running interval is the usual one within the bursts, over the whole log.
    """
    flag = np.zeros(len(t_s), bool)
    interval = np.diff(t_s)
    if len(interval) < 3:
        flag[1:] = interval <= 0
        return flag
    quick = float(np.percentile(interval, 25, method="lower"))
    within = float(np.median(interval[interval <= 4 * quick])) if quick > 0 else 0.0
    flag[1:] = (interval < REFRACTORY_PART * within) | (interval <= 0)
    return flag
