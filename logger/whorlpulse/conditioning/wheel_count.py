"""Count the wheel's targets on the scale of the flyer's passages, where treadling cancels."""

from __future__ import annotations

import numpy as np

from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.conditioning.repair import Repair, find_repairs
from whorlpulse.conditioning.running_median import median_of, running_median_9
from whorlpulse.conditioning.wheel_pattern import EVEN_ENOUGH, Pattern, decode, follows, learn_pattern
from whorlpulse.pulses import ByteArray, Flag, FloatArray

#: Standard deviation, as a part of a gap, of the wheel's targets on the flyer's scale: no treadling, but uneven magnets
#: and slip.
_SD = 0.1


def count_wheel(flyer: Counted, wheel_t: FloatArray, targets: int) -> tuple[Counted, ByteArray]:
    """Count the debounced wheel pulses at wheel_t (n,); returns the passages and the pulses' flags (n,).

    Where the flyer covers fewer than four of them, the wheel's own intervals must do.
    """
    y = flyer.passages_at(wheel_t)
    seen = np.isfinite(y)
    if seen.sum() < 4:
        repairs = find_repairs(wheel_t, running_median_9(np.diff(wheel_t)))
        return Counted.repaired(wheel_t, repairs, np.array([x for r in repairs for x in r.filled]))
    offset, y = int(np.argmax(seen)), y[seen]
    pattern = learn_pattern(y, targets) if targets > 1 else None
    if pattern is not None and pattern.unevenness > EVEN_ENOUGH:
        return _count_by_pattern(flyer, wheel_t, y, offset, pattern)
    wait = np.diff(wheel_t[seen])
    repairs = [r for r in find_repairs(y, running_median_9(np.diff(y)), _SD) if _time_agrees(r, wait)]
    filled_y = np.array([x for r in repairs for x in r.filled])
    return Counted.repaired(wheel_t, [r.moved(offset) for r in repairs], _when(flyer, filled_y))


def _time_agrees(repair: Repair, wait: FloatArray) -> bool:
    """A wheel fault shows in time too; a miscounted flyer shows only in its turns."""
    if repair.net == 0:
        return True
    inside = wait[repair.left : repair.right]
    around = wait[max(repair.left - 6, 0) : repair.right + 6]
    reported = len(inside)
    rate = inside.sum() / median_of(around.tolist())
    mended = max(reported + repair.net, 1)
    return bool(abs(np.log(rate / mended)) < abs(np.log(rate / reported)))


def _when(flyer: Counted, y: FloatArray) -> FloatArray:
    """The time at which the flyer had made y passages."""
    return monotone_cubic(flyer.passage.astype(float), flyer.t_s, y)


def _count_by_pattern(
    flyer: Counted, wheel_t: FloatArray, y: FloatArray, offset: int, pattern: Pattern
) -> tuple[Counted, ByteArray]:
    """Number the pulses by the pattern of their gaps; those that the flyer doesn't cover go on from there."""
    covered = slice(offset, offset + len(y))
    if follows(y, pattern):
        passage, extra = np.arange(len(y)), np.zeros(len(y), bool)
    else:
        passage, extra = decode(y, pattern)
    flag = np.zeros(len(wheel_t), np.uint8)
    flag[covered][extra] = Flag.EXTRA
    after = len(wheel_t) - covered.stop
    numbered = np.concatenate((passage[0] - offset + np.arange(offset), passage, passage[-1] + 1 + np.arange(after)))[
        flag == 0
    ]
    seen = Counted(wheel_t[flag == 0], numbered, np.zeros(len(numbered), bool))
    return _fill_missing(seen, flyer, np.interp(seen.t_s, wheel_t[covered], y), pattern), flag


def _fill_missing(seen: Counted, flyer: Counted, y: FloatArray, pattern: Pattern) -> Counted:
    """Put in the passages that the numbers skip, where the pattern says; y (n,): flyer passages at the seen ones."""
    targets = len(pattern.angle)

    def turns(passage: np.ndarray) -> FloatArray:
        made: FloatArray = pattern.angle[passage % targets] + passage // targets
        return made

    missing = np.setdiff1d(np.arange(seen.passage[0], seen.passage[-1] + 1), seen.passage)
    before = np.searchsorted(seen.passage, missing) - 1
    when = _when(flyer, y[before] + (turns(missing) - turns(seen.passage[before])) * pattern.turn)
    sane = np.isfinite(when)
    times = np.concatenate((seen.t_s, when[sane]))
    passage = np.concatenate((seen.passage, missing[sane]))
    order = np.argsort(passage, kind="stable")
    filled = np.arange(len(times)) >= len(seen)
    times = np.maximum.accumulate(times[order])
    return Counted(times, passage[order] - seen.passage[0] // targets * targets, filled[order])
