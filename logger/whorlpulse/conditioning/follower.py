"""Flyer and bobbin are tied by the yarn: the one that lags is counted against the one that leads.

While nothing is wound on, both turn as one. While yarn winds on, the braked one falls behind the driven one (flyer-led:
the bobbin; bobbin-led and double drive: the flyer), by as many turns as are wound on. So between two passages of the
lagging shaft the leading one makes one gap or more, never less:

    s = 1 + wound turns,  s in gaps of the lagging shaft

and winding on swells and ebbs over several passages. While both turn as one, s is 1 to a thousandth or so. Hence
* a step of a whole number from 2 on between steps of whole numbers, that also took so much longer, is a missed pulse;
* two steps that make 1 together, in the time of one, hold a pulse where no target passed;
* and where yarn winds on slowly, the same holds against the level of the neighbours, as far as these agree.
The time tells them from faults of the leading shaft. Where winding on is quick nothing can be told, and what was
reported is left as it is.

Conversely, a repair that the wheel asked for on the leading shaft is taken back where both shafts, as reported, turned
as one: to the wheel a hard start looks like missed pulses.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.conditioning.running_median import running_median_9
from whorlpulse.pulses import BoolArray, ByteArray, Flag, FloatArray
from whorlpulse.rig import Tension

#: A step is a whole number if it is so near to one: six robust deviations of those that are, within these.
_NEAREST, _FARTHEST, _DEVIATIONS = 0.02, 0.3, 6.0
#: Shorter than this part of a gap is no step of a shaft that lags.
_SHORT = 0.88
#: Against neighbours that wind on slowly a step may be off by so much.
_LOOSELY = 0.12
#: No more passages than this in a row are put in.
_MOST_MISSED = 9
_FEWEST = 8
#: As one in a start or a run-down, where the leader's turns between its passages are a guess.
_ROUGHLY = 0.25
#: Steps beyond this many gaps are of a winding-on so quick that a missed pulse would not stand out.
_QUICK = 1.6
_BETWEEN_ONE_AND_TWO = 1.5
#: Totals that differ by less than this part say nothing of who leads.
_TELLING = 0.002


@dataclass(frozen=True)
class Lagging:
    """The lagging shaft's passages, and the flags of its reported pulses (n,)."""

    counted: Counted
    flag: ByteArray


def bobbin_leads(
    flyer_s: FloatArray, bobbin_s: FloatArray, flyer_targets: int, bobbin_targets: int, tension: Tension
) -> bool:
    """Tell from their pulses, flyer_s (n,) and bobbin_s (m,) in seconds, whether the bobbin turns faster.

    The leading shaft is the one in whose turns the other's steps are hardly ever too short; where neither's are, the
    one that made more turns. Where the pulses don't tell, the tension does.
    """
    built = tension != "scotch"
    if min(len(flyer_s), len(bobbin_s)) < _FEWEST:
        return built
    by_bobbin = _short_steps(bobbin_s, flyer_s, bobbin_targets, flyer_targets)
    by_flyer = _short_steps(flyer_s, bobbin_s, flyer_targets, bobbin_targets)
    if by_bobbin != by_flyer:
        return by_bobbin < by_flyer
    start, end = max(flyer_s[0], bobbin_s[0]), min(flyer_s[-1], bobbin_s[-1])
    flyer, bobbin = (
        np.count_nonzero((t >= start) & (t <= end)) / n
        for t, n in ((flyer_s, flyer_targets), (bobbin_s, bobbin_targets))
    )
    if abs(bobbin - flyer) < max(_TELLING * flyer, 1.0):
        return built
    return bool(bobbin > flyer)


def _short_steps(leader_s: FloatArray, other_s: FloatArray, leader_targets: int, targets: int) -> int:
    steps = _steps(Counted.one_each(leader_s), other_s, leader_targets, targets)
    return int(np.count_nonzero(steps < (_SHORT if targets == 1 else 1.0 - _FARTHEST)))


def _steps(leader: Counted, other_s: FloatArray, leader_targets: int, targets: int) -> FloatArray:
    """The other shaft's steps (n-1,) in its own gaps, by the leader's turns; NaN where the leader wasn't seen."""
    turns = monotone_cubic(leader.t_s, leader.passage / leader_targets, other_s)
    steps: FloatArray = np.diff(turns) * targets
    return steps


def _near(steps: FloatArray) -> float:
    """How near to a whole number a step (n,) must be to be one, by how near the ordinary ones are."""
    ordinary = np.abs(steps[np.abs(steps - 1.0) < _FARTHEST] - 1.0)
    if len(ordinary) == 0:
        return _FARTHEST
    return float(np.clip(_DEVIATIONS * 1.4826 * np.median(ordinary), _NEAREST, _FARTHEST))


def count_lagging(leader: Counted, lagging_s: FloatArray, leader_targets: int, targets: int) -> Lagging:
    """Count the debounced pulses of the lagging shaft at lagging_s (n,), seconds, against the leader."""
    flag = np.zeros(len(lagging_s), np.uint8)
    if len(leader) < 2 or len(lagging_s) < _FEWEST:
        return Lagging(Counted.one_each(lagging_s), flag)
    steps = _steps(leader, lagging_s, leader_targets, targets)
    near = _near(steps)
    extra = _extra(steps, np.diff(lagging_s), near)
    flag[1:-1][extra] = Flag.EXTRA
    kept_s = lagging_s[flag == 0]
    filled = _filled(leader, kept_s, leader_targets, targets, near)
    times = np.concatenate([kept_s, filled])
    order = np.argsort(times, kind="stable")
    put_in = np.concatenate([np.zeros(len(kept_s), bool), np.ones(len(filled), bool)])[order]
    return Lagging(Counted(times[order], np.arange(len(times), dtype=np.int64), put_in), flag)


def borne_out(
    leader: Counted, flag: ByteArray, leader_s: FloatArray, lagging_s: FloatArray, leader_targets: int, targets: int
) -> tuple[Counted, ByteArray]:
    """Take back repairs of the leading shaft where the lagging one says that nothing was wrong.

    leader, flag (n,): its count and what was flagged of the pulses reported at leader_s (n,).
    """
    extra_s, filled_s = leader_s[flag & Flag.EXTRA != 0], leader.t_s[leader.filled]
    if len(extra_s) + len(filled_s) == 0 or min(len(leader_s), len(lagging_s)) < _FEWEST:
        return leader, flag
    steps = _steps(Counted.one_each(leader_s), lagging_s, leader_targets, targets)
    with np.errstate(invalid="ignore"):
        as_one = np.abs(steps - 1.0) < _ROUGHLY
    kept_extra, kept_filled = (t[~_within(t, lagging_s, as_one)] for t in (extra_s, filled_s))
    if len(kept_extra) == len(extra_s) and len(kept_filled) == len(filled_s):
        return leader, flag
    flag = flag & ~np.uint8(Flag.EXTRA)
    flag[np.isin(leader_s, kept_extra)] |= np.uint8(Flag.EXTRA)
    times = np.concatenate([leader_s[flag & Flag.EXTRA == 0], kept_filled])
    order = np.argsort(times, kind="stable")
    put_in = np.arange(len(times)) >= len(times) - len(kept_filled)
    return Counted(times[order], np.arange(len(times), dtype=np.int64), put_in[order]), flag


def _within(t_s: FloatArray, edge_s: FloatArray, as_one: BoolArray) -> BoolArray:
    """Which times (k,) lie in a step as_one (n-1,) between edge_s (n,), with such steps on both sides."""
    step = np.searchsorted(edge_s, t_s, side="right") - 1
    inside = (step >= 1) & (step < len(as_one) - 1)
    near = np.clip(step, 1, len(as_one) - 2)
    found: BoolArray = inside & as_one[near - 1] & as_one[near] & as_one[near + 1]
    return found


def _level(*around: FloatArray) -> FloatArray:
    """What a step should be by its neighbours (n,) each; NaN where these disagree or wind on too quickly to tell."""
    steps = np.stack(around)
    low, high = steps.min(axis=0), steps.max(axis=0)
    with np.errstate(invalid="ignore"):
        level: FloatArray = np.where((high - low < _LOOSELY * low) & (high < _QUICK), steps.mean(axis=0), np.nan)
    return level


def _extra(steps: FloatArray, wait: FloatArray, near: float) -> BoolArray:
    """Which inner pulses part one gap in two; steps, wait (n,) give (n-1,). Of two in a row the first."""
    found = np.zeros(max(len(steps) - 1, 0), bool)
    if len(steps) < _FEWEST:
        return found
    pair, longer = steps[2:-3] + steps[3:-2], np.maximum(steps[2:-3], steps[3:-2])
    level = _level(steps[:-5], steps[1:-4], steps[4:-1], steps[5:])
    soon = wait[2:-3] + wait[3:-2] < _BETWEEN_ONE_AND_TWO * running_median_9(wait)[2:-3]
    with np.errstate(invalid="ignore"):
        as_one = (np.abs(pair - 1.0) < near) & (longer < 1.0 - near)
        slowly = (np.abs(pair - level) < _LOOSELY * level) & (longer < (1.0 - _LOOSELY) * level)
    found[2:-2] = (as_one | slowly) & soon
    found[1:] &= ~found[:-1]
    return found


def _filled(leader: Counted, t_s: FloatArray, leader_targets: int, targets: int, near: float) -> FloatArray:
    """Times (k,) at which a target passed unreported: lone steps of several gaps, which took as many times as long."""
    steps, wait = _steps(leader, t_s, leader_targets, targets), np.diff(t_s)
    if len(steps) < _FEWEST:
        return np.empty(0)
    whole = np.zeros(len(steps))
    with np.errstate(invalid="ignore"):
        rounded = np.where(np.isfinite(steps), np.rint(steps), 0.0)
        plain = (rounded >= 1) & (np.abs(steps - rounded) < near)
        parts = steps[2:-2] / _level(steps[:-4], steps[1:-3], steps[3:-1], steps[4:])
        whole[2:-2] = np.where(np.abs(parts - np.rint(parts)) < _LOOSELY, np.rint(parts), 0.0)
    whole[1:-1] = np.maximum(whole[1:-1], np.where(plain[:-2] & plain[1:-1] & plain[2:], rounded[1:-1], 0.0))
    long = wait > _BETWEEN_ONE_AND_TWO * running_median_9(wait)
    lone = (whole >= 2) & (whole <= 1 + _MOST_MISSED) & long
    found = np.flatnonzero(lone)
    if len(found) == 0:
        return np.empty(0)
    at = monotone_cubic(leader.t_s, leader.passage.astype(float), t_s)
    wanted = [at[i] + (at[i + 1] - at[i]) * np.arange(1, int(k)) / k for i, k in zip(found, whole[found], strict=True)]
    times = monotone_cubic(leader.passage.astype(float), leader.t_s, np.concatenate(wanted))
    inside: FloatArray = times[np.isfinite(times)]
    return inside
