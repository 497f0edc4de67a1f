"""Counting bout by bout: which shaft leads, and every shaft's passages within each stretch.

Of flyer and bobbin the wheel judges the one that its band drives; the other one is judged by that (`follower`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from whorlpulse.conditioning.both_shafts import CountedStretch, count_both
from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.follower import bobbin_leads, borne_out, count_lagging
from whorlpulse.conditioning.stops import Bout
from whorlpulse.pulses import BOBBIN, FLYER, WHEEL, Flag, FloatArray, IntArray
from whorlpulse.rig import Rig


@dataclass(frozen=True)
class Channel:
    """One channel's reported pulses while the chain works on them."""

    letter: int
    tick: IntArray
    t_s: FloatArray
    span: IntArray
    flag: np.ndarray
    count: IntArray | None


@dataclass(frozen=True)
class Stretch:
    """Turning without a stop and without a lost line; times in seconds since the log's first row.

    run: number of the run it belongs to. wheel or flyer may be empty; bobbin is, where it is not sensed.
    """

    run: int
    flyer: Counted
    wheel: Counted
    bobbin: Counted = field(default_factory=lambda: Counted.one_each(np.empty(0)))

    def of(self, letter: int) -> Counted:
        """The passages of the shaft on channel `letter`: wheel, flyer or bobbin."""
        return {FLYER: self.flyer, WHEEL: self.wheel, BOBBIN: self.bobbin}[letter]

    @property
    def start_s(self) -> float:
        """First passage of any shaft."""
        return float(min(c.t_s[0] for c in (self.flyer, self.wheel, self.bobbin) if len(c)))

    @property
    def end_s(self) -> float:
        """Last passage of any shaft."""
        return float(max(c.t_s[-1] for c in (self.flyer, self.wheel, self.bobbin) if len(c)))


@dataclass(frozen=True)
class Shafts:
    """leader: of flyer and bobbin the one that the wheel judges. lagging: the other one, None where it is not sensed.

    judged: whether the wheel's turns say how far the leader must have turned.
    """

    leader: int
    lagging: int | None
    judged: bool

    @property
    def slows(self) -> frozenset[int]:
        """Shafts that fall behind the wheel while yarn winds on."""
        lagging = frozenset() if self.lagging is None else frozenset({self.lagging})
        return lagging if self.judged else lagging | {self.leader}


def leading_shaft(channels: Mapping[int, Channel], rig: Rig) -> Shafts:
    """Find out which shaft leads; a shaft that falls behind while yarn winds on can't be judged by the wheel."""
    flyer, bobbin = channels[FLYER], channels[BOBBIN]
    if len(bobbin.t_s) < 2:
        return Shafts(FLYER, None, rig.tension != "irish")
    if len(flyer.t_s) < 2:
        return Shafts(BOBBIN, None, rig.tension != "scotch")
    if flyer.count is not None or bobbin.count is not None:
        leads = rig.tension != "scotch"
    else:
        flyer_s, bobbin_s = (c.t_s[c.flag == 0] for c in (flyer, bobbin))
        leads = bobbin_leads(flyer_s, bobbin_s, rig.targets["f"], rig.targets["b"], rig.tension)
    return Shafts(BOBBIN, FLYER, True) if leads else Shafts(FLYER, BOBBIN, True)


def count_stretches(
    channels: Mapping[int, Channel],
    shafts: Shafts,
    found: list[Bout],
    rig: Rig,
    filled: dict[int, list[FloatArray]],
) -> list[Stretch]:
    """Count each bout span by span; flags go to the channels, filled times to `filled`."""
    leader, wheel = channels[shafts.leader], channels[WHEEL]
    covered = {c: np.zeros(len(channels[c].t_s), bool) for c in (FLYER, WHEEL, BOBBIN)}
    stretches, run = [], -1
    for bout in found:
        if bout.idle:
            continue
        run += 1
        inside = {c: _within(channels[c], bout) for c in covered}
        for c, where in inside.items():
            covered[c][where] = True
        f, w = inside[shafts.leader], inside[WHEEL]
        for span in _spans(leader.span[f], wheel.span[w]):
            mine_f = _clean(leader, f, span)
            mine_w = _clean(wheel, w, span)
            if _taken(leader, mine_f) + _taken(wheel, mine_w) < 2:
                continue
            counted = _count(leader, wheel, mine_f, mine_w, rig.targets["w"], judged=shafts.judged)
            lead, flag, lagging = counted.flyer, counted.flyer_flag, Counted.one_each(np.empty(0))
            if shafts.lagging is not None:
                follower = channels[shafts.lagging]
                mine = _clean(follower, inside[shafts.lagging], span)
                if leader.count is None and follower.count is None:
                    targets = (rig.targets[chr(leader.letter)], rig.targets[chr(follower.letter)])
                    lead, flag = borne_out(lead, flag, leader.t_s[mine_f], follower.t_s[mine], *targets)
                lagging = _count_lagging(follower, mine, lead, shafts, rig)
                filled[shafts.lagging].append(lagging.t_s[lagging.filled])
            leader.flag[mine_f] |= flag
            wheel.flag[mine_w] |= counted.wheel_flag
            filled[shafts.leader].append(lead.t_s[lead.filled])
            filled[WHEEL].append(counted.wheel.t_s[counted.wheel.filled])
            flyer, bobbin = (lead, lagging) if shafts.leader == FLYER else (lagging, lead)
            stretches.append(Stretch(run, flyer, counted.wheel, bobbin))
    for letter, was_covered in covered.items():
        channels[letter].flag[~was_covered] |= np.uint8(Flag.IDLE)
    return stretches


def _count_lagging(channel: Channel, index: IntArray | slice, leader: Counted, shafts: Shafts, rig: Rig) -> Counted:
    """Count the lagging shaft's pulses `index` of one stretch, and flag them."""
    if channel.count is not None:
        return as_counted(channel, index)
    targets = (rig.targets[chr(shafts.leader)], rig.targets[chr(channel.letter)])
    found = count_lagging(leader, channel.t_s[index], *targets)
    channel.flag[index] |= found.flag
    return found.counted


def _within(channel: Channel, bout: Bout) -> slice:
    i = np.searchsorted(channel.t_s, bout.start_s)
    j = np.searchsorted(channel.t_s, bout.end_s, side="right")
    return slice(int(i), int(j))


def _spans(*columns: IntArray) -> list[int]:
    """The numbers that occur in any of the columns, ascending."""
    seen = [c for c in columns if len(c)]
    lowest, highest = min((int(c.min()) for c in seen), default=0), max((int(c.max()) for c in seen), default=-1)
    if highest <= lowest:  # most often nothing was lost, and then there is no need to sort
        return list(range(lowest, highest + 1))
    return [int(span) for span in np.unique(np.concatenate(seen))]


def _clean(channel: Channel, where: slice, span: int) -> IntArray | slice:
    """Which of the channel's pulses in `where` are of the span and have no flag; all of them need no index."""
    mine = channel.flag[where] == 0
    if channel.count is None and mine.all() and _spans(channel.span[where]) == [span]:
        return where
    mine &= channel.span[where] == span
    return np.flatnonzero(mine) + int(where.start)


def _taken(channel: Channel, index: IntArray | slice) -> int:
    """How many pulses of the channel `index` takes."""
    return len(channel.flag[index])


def _count(
    flyer: Channel, wheel: Channel, f: IntArray | slice, w: IntArray | slice, wheel_targets: int, *, judged: bool
) -> CountedStretch:
    if flyer.count is None and wheel.count is None and judged:
        return count_both(flyer.t_s[f], wheel.t_s[w], wheel_targets)
    none_f, none_w = (np.zeros(_taken(c, i), np.uint8) for c, i in ((flyer, f), (wheel, w)))
    return CountedStretch(as_counted(flyer, f), as_counted(wheel, w), none_f, none_w)


def as_counted(channel: Channel, index: IntArray | slice) -> Counted:
    """Passages as reported, without repair: lines may stand for several pulses."""
    if channel.count is None or _taken(channel, index) == 0:
        return Counted.one_each(channel.t_s[index])
    passage = np.cumsum(channel.count[index])
    # Two lines at one tick are one moment: only the later count is a knot.
    last = np.append(np.diff(channel.t_s[index]) > 0, True)
    return Counted(channel.t_s[index][last], (passage - channel.count[index][0])[last], np.zeros(int(last.sum()), bool))
