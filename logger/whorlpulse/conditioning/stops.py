"""Stops part the log into bouts of turning; the wheel rolled by hand between them is no spinning.

A shaft stands when it waits several of its usual intervals for the next target. What turns between two stops
much more slowly than the treadled bouts, or just before the feet set in, is a hand on the wheel: sensors don't
know the direction, so nothing of it can be counted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.waits import median_wait, wait_blocks, waits_above
from whorlpulse.pulses import FloatArray

_PAUSE_INTERVALS = 5.0
_SHORTEST_PAUSE_S = 1.0
_SHORTEST_PAUSE_COARSE_S = 3.0  # where lines stand for many pulses: seconds may pass between lines
_HAND_SPEED = 0.4  # of the treadled speed; slower is a hand on the wheel
_SHORT_HAND_SPEED = 0.75  # the same where the wheel hardly made a turn: nobody treadles so little
_RAMP_DIP = 0.7  # while the wheel speeds up, an interval may fall to this part of the next one
_UP_TO_SPEED = 0.5
_FEWEST_WHEEL = 4
_LONGEST_LOSS_S = 5.0  # in a longer hole the wheel may well have stopped

_NEVER: FloatArray = np.empty(0)


@dataclass(frozen=True)
class Bout:
    """Turning without a stop, from start_s to end_s; idle when it was a hand rolling the wheel."""

    start_s: float
    end_s: float
    idle: bool


@dataclass(frozen=True)
class ShaftTimes:
    """One shaft's pulses for finding stops: times t_s (n,) and passages each (n,), 1 where lines are pulses."""

    t_s: FloatArray
    passages: FloatArray
    coarse: bool


def pause_s(shaft: ShaftTimes) -> float:
    """Return the shortest wait, in seconds, that counts as a stop of this shaft."""
    return _pause_s(shaft, median_wait(shaft.t_s)) if len(shaft.t_s) >= 2 else _SHORTEST_PAUSE_S


def _pause_s(shaft: ShaftTimes, usual: float) -> float:
    """The same, for a shaft with this usual wait."""
    least = _SHORTEST_PAUSE_COARSE_S if shaft.coarse else _SHORTEST_PAUSE_S
    return max(least, _PAUSE_INTERVALS * usual)


def bouts(flyer: ShaftTimes, wheel: ShaftTimes, break_s: FloatArray = _NEVER) -> list[Bout]:
    """Part the log at its stops; each bout begins and ends with a pulse of the leading shaft.

    The flyer leads, because it has more pulses; without flyer pulses the wheel does. A silence of the flyer
    while the wheel's pulses go on at their pace is a deaf sensor or a lost band, not a stop; nor is one in which lines
    were lost (break_s (b,): when the count broke) between pulses at full pace.
    """
    lead = flyer if len(flyer.t_s) >= 2 else wheel
    if len(lead.t_s) < 2:
        return []
    usual_lead = median_wait(lead.t_s)
    long = waits_above(lead.t_s, _pause_s(lead, usual_lead))
    usual_wheel = median_wait(wheel.t_s) if len(wheel.t_s) >= _FEWEST_WHEEL else 0.0
    goes_on = [
        (lead is flyer and _turns_through(wheel, usual_wheel, lead.t_s[i], lead.t_s[i + 1]))
        or _lines_lost(lead, usual_lead, i, break_s)
        for i in long.tolist()
    ]
    breaks = long[~np.array(goes_on, bool)]
    first = np.concatenate(([0], breaks + 1))
    last = np.concatenate((breaks, [len(lead.t_s) - 1]))
    pieces = [(int(i), int(j)) for i, j in zip(first, last, strict=True) if j > i]
    found: list[Bout] = []
    for i, j in pieces:
        found.extend(_without_ramps(lead, i, j))
    return _mark_hand_rolled(found, lead, wheel)


def _turns_through(wheel: ShaftTimes, usual: float, from_s: float, to_s: float) -> bool:
    """Tell whether the wheel's pulses go on at their usual interval from from_s to to_s."""
    if usual <= 0:
        return False
    i = max(int(np.searchsorted(wheel.t_s, from_s)) - 1, 0)
    j = min(int(np.searchsorted(wheel.t_s, to_s)) + 1, len(wheel.t_s))
    around = wheel.t_s[i:j]
    return len(around) >= 2 and around[0] <= from_s and around[-1] >= to_s and np.diff(around).max() < 1.7 * usual


def _lines_lost(lead: ShaftTimes, usual: float, i: int, break_s: FloatArray) -> bool:
    """Tell whether the wait after pulse i is one of lost lines: a short one, at full pace before and after."""
    from_s, to_s = lead.t_s[i], lead.t_s[i + 1]
    lost = np.searchsorted(break_s, to_s, side="right") > np.searchsorted(break_s, from_s, side="right")
    if not lost or to_s - from_s > _LONGEST_LOSS_S:
        return False
    around = [np.diff(lead.t_s[max(i - 2, 0) : i + 1]), np.diff(lead.t_s[i + 1 : i + 4])]
    waits = np.concatenate(around)
    return len(waits) >= 2 and bool(waits.max() < 2 * usual)


def _without_ramps(lead: ShaftTimes, i: int, j: int) -> list[Bout]:
    """Cut a hand's movement off both ends of pulses i..j, down to where the speeding-up itself begins."""
    t = lead.t_s[i : j + 1]
    if lead.coarse or len(t) < 6:
        return [Bout(float(t[0]), float(t[-1]), False)]
    slowest = median_wait(t) / _UP_TO_SPEED
    begin = _ramp_start(t, slowest)
    end = len(t) - 1 - _ramp_start(-t[::-1], slowest)
    cut = []
    if begin > 0:
        cut.append(Bout(float(t[0]), float(t[begin - 1]), True))
    cut.append(Bout(float(t[begin]), float(t[end]), False))
    if end < len(t) - 1:
        cut.append(Bout(float(t[end + 1]), float(t[-1]), True))
    return cut


def _ramp_start(t: FloatArray, slowest: float) -> int:
    """Walk back from the first wait at speed while the shaft was slower and slower; return the first pulse kept.

    t (n,): rising. slowest: the longest wait that is at speed.
    """
    for start, wait in wait_blocks(t):
        fast = wait <= slowest
        if fast.any():
            i = start + int(fast.argmax())
            break
    else:
        return 0
    wait = np.diff(t[: i + 2])
    while i > 0 and wait[i - 1] >= _RAMP_DIP * wait[i]:
        i -= 1
    return i


def _mark_hand_rolled(found: list[Bout], lead: ShaftTimes, wheel: ShaftTimes) -> list[Bout]:
    """Mark as idle the bouts that turn much more slowly than the log's treadled ones."""
    pace = wheel if len(wheel.t_s) >= 3 else lead
    speeds = np.array([_speed(pace, b) for b in found])
    weights = np.array([b.end_s - b.start_s for b in found])
    judged = np.array([not b.idle for b in found]) & np.isfinite(speeds)
    if not judged.any():
        pace = lead
        speeds = np.array([_speed(pace, b) for b in found])
        judged = np.array([not b.idle for b in found]) & np.isfinite(speeds)
    if not judged.any():
        return found
    usual = _weighted_median(speeds[judged], weights[judged])
    lead_speeds = speeds if pace is lead else np.array([_speed(lead, b) for b in found])
    lead_usual = _weighted_median(lead_speeds[judged], weights[judged])
    marked = []
    for b, speed, lead_speed in zip(found, speeds, lead_speeds, strict=True):
        slow = speed < _HAND_SPEED * usual
        if np.isnan(speed):
            part = _HAND_SPEED if lead.coarse else _SHORT_HAND_SPEED
            slow = lead_speed < part * lead_usual or (np.isnan(lead_speed) and not lead.coarse)
        marked.append(Bout(b.start_s, b.end_s, b.idle or bool(slow)))
    return marked


def _speed(shaft: ShaftTimes, bout: Bout) -> float:
    """Passages a second of the shaft in the bout, NaN with fewer than three of its pulses."""
    i = int(np.searchsorted(shaft.t_s, bout.start_s))
    j = int(np.searchsorted(shaft.t_s, bout.end_s, side="right"))
    if j - i < 3 or shaft.t_s[j - 1] <= shaft.t_s[i]:
        return float("nan")
    return float(shaft.passages[i + 1 : j].sum() / (shaft.t_s[j - 1] - shaft.t_s[i]))


def _weighted_median(values: FloatArray, weights: FloatArray) -> float:
    order = np.argsort(values)
    cumulative = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(cumulative, 0.5 * cumulative[-1])])
