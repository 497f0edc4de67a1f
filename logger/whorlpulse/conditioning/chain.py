"""The chain of conditioning, in the order in which faults hide one another.

1. unwrap: without one clock no interval means anything.
2. spans: a turn count must not cross lost lines.
3. debounce: bounce would look like speed, so it goes before anything that judges speed.
4. stops: a stop and a hand on the wheel would look like missed pulses, so they go before repair.
5. both shafts: what was missed or doubled, each shaft judged by the other.
6. targets: angles can be estimated only from passages numbered rightly.

Every stage flags, none deletes: the trains hold each reported pulse with what was decided about it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from whorlpulse.conditioning.both_shafts import CountedStretch, count_both
from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.debounce import bounced, bounced_in_draws
from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.conditioning.spans import span_starts
from whorlpulse.conditioning.stops import Bout, ShaftTimes, bouts
from whorlpulse.conditioning.targets import Angles, angles_by_position, same_zero
from whorlpulse.conditioning.unwrap import Clocked, unwrap
from whorlpulse.pulses import (
    BOBBIN,
    FLYER,
    ROLLER,
    SHAFTS,
    WHEEL,
    Flag,
    FloatArray,
    IntArray,
    PulseTrain,
    Rows,
)
from whorlpulse.rig import Rig


@dataclass(frozen=True)
class Stretch:
    """Turning without a stop and without a lost line; times in seconds since the log's first row.

    run: number of the run it belongs to. wheel or flyer may be empty.
    """

    run: int
    flyer: Counted
    wheel: Counted

    @property
    def start_s(self) -> float:
        """First passage of either shaft."""
        return float(min(c.t_s[0] for c in (self.flyer, self.wheel) if len(c)))

    @property
    def end_s(self) -> float:
        """Last passage of either shaft."""
        return float(max(c.t_s[-1] for c in (self.flyer, self.wheel) if len(c)))


@dataclass(frozen=True)
class Piece:
    """One channel's passages between two breaks of the count (for roller and bobbin), and the break's number."""

    span: int
    counted: Counted


@dataclass(frozen=True)
class Conditioned:
    """A log made countable.

    trains: each channel's reported pulses with flags (and `Flag.FILLED` ones put in). stretches in order of time.
    angles: of the targets of wheel and flyer. rolls, bobbins: passages by span. break_s (b,): times at which lines
    were lost or the clock failed. coarse: channels whose lines stand for several pulses.
    """

    tick_hz: float
    first_raw_tick: int
    duration_s: float
    trains: Mapping[int, PulseTrain]
    stretches: tuple[Stretch, ...]
    runs: int
    angles: Mapping[int, Angles]
    rolls: tuple[Piece, ...]
    bobbins: tuple[Piece, ...]
    clocked: Clocked
    break_s: FloatArray
    coarse: frozenset[int]


@dataclass(frozen=True)
class _Channel:
    """One channel's reported pulses while the chain works on them."""

    tick: IntArray
    t_s: FloatArray
    span: IntArray
    flag: np.ndarray
    count: IntArray | None


def condition(rows: Rows, rig: Rig) -> Conditioned:
    """Run the whole chain over a log's rows (see the module's head for the order and why)."""
    clocked = unwrap(rows, rig.tick_hz, rig.tick_bits)
    starts = span_starts(rows, clocked)
    channels = {c: _channel(rows, clocked, starts, rig.tick_hz, c) for c in SHAFTS}
    for letter, channel in channels.items():
        if channel.count is None:
            find = bounced_in_draws if letter == ROLLER else bounced
            channel.flag[find(channel.t_s)] |= np.uint8(Flag.BOUNCE)
    flyer, wheel = channels[FLYER], channels[WHEEL]
    break_s = clocked.tick[starts] / rig.tick_hz
    found = bouts(_times(flyer), _times(wheel), break_s)
    filled: dict[int, list[FloatArray]] = {FLYER: [], WHEEL: []}
    stretches = _count_stretches(channels, found, rig.targets["w"], filled)
    stretches, angles = _find_angles(stretches, rig)
    duration = float(clocked.tick[-1] / rig.tick_hz) if len(rows) else 0.0
    return Conditioned(
        tick_hz=rig.tick_hz,
        first_raw_tick=int(rows.tick[np.argmax(clocked.usable)]) if len(rows) else 0,
        duration_s=duration,
        trains={c: _train(c, ch, filled.get(c, []), rig.tick_hz) for c, ch in channels.items()},
        stretches=tuple(stretches),
        runs=1 + max((s.run for s in stretches), default=-1),
        angles=angles,
        rolls=_pieces(channels[ROLLER]),
        bobbins=_pieces(channels[BOBBIN]),
        clocked=clocked,
        break_s=break_s,
        coarse=frozenset(c for c, ch in channels.items() if ch.count is not None),
    )


def _channel(rows: Rows, clocked: Clocked, starts: IntArray, tick_hz: float, letter: int) -> _Channel:
    index = np.flatnonzero((rows.channel == letter) & clocked.usable)
    count = None
    here = np.isin(rows.count_row, index)
    if here.any():
        count = np.ones(len(index), np.int64)
        count[np.searchsorted(index, rows.count_row[here])] = rows.count_value[here]
    tick = clocked.tick[index]
    if (np.diff(tick) < 0).any():
        order = np.argsort(tick, kind="stable")
        index, tick = index[order], tick[order]
        count = count[order] if count is not None else None
    span = np.searchsorted(starts, index, side="right")
    return _Channel(tick, tick / tick_hz, span, np.zeros(len(index), np.uint8), count)


def _times(channel: _Channel) -> ShaftTimes:
    kept = channel.flag == 0
    passages = np.ones(int(kept.sum())) if channel.count is None else channel.count[kept].astype(float)
    return ShaftTimes(channel.t_s[kept], passages, channel.count is not None)


def _count_stretches(
    channels: Mapping[int, _Channel],
    found: list[Bout],
    wheel_targets: int,
    filled: dict[int, list[FloatArray]],
) -> list[Stretch]:
    """Count each bout span by span; flags go to the channels, filled times to `filled`."""
    flyer, wheel = channels[FLYER], channels[WHEEL]
    covered = {FLYER: np.zeros(len(flyer.t_s), bool), WHEEL: np.zeros(len(wheel.t_s), bool)}
    stretches, run = [], -1
    for bout in found:
        if bout.idle:
            continue
        run += 1
        f, w = (_within(c, bout) for c in (flyer, wheel))
        covered[FLYER][f], covered[WHEEL][w] = True, True
        for span in np.union1d(flyer.span[f], wheel.span[w]):
            mine_f = _clean(flyer, f, int(span))
            mine_w = _clean(wheel, w, int(span))
            if len(mine_f) + len(mine_w) < 2:
                continue
            counted = _count(flyer, wheel, mine_f, mine_w, wheel_targets)
            flyer.flag[mine_f] |= counted.flyer_flag
            wheel.flag[mine_w] |= counted.wheel_flag
            filled[FLYER].append(counted.flyer.t_s[counted.flyer.filled])
            filled[WHEEL].append(counted.wheel.t_s[counted.wheel.filled])
            stretches.append(Stretch(run, counted.flyer, counted.wheel))
    for letter, was_covered in covered.items():
        channels[letter].flag[~was_covered] |= np.uint8(Flag.IDLE)
    return stretches


def _within(channel: _Channel, bout: Bout) -> slice:
    i = np.searchsorted(channel.t_s, bout.start_s)
    j = np.searchsorted(channel.t_s, bout.end_s, side="right")
    return slice(int(i), int(j))


def _clean(channel: _Channel, where: slice, span: int) -> IntArray:
    mine = (channel.span[where] == span) & (channel.flag[where] == 0)
    return np.flatnonzero(mine) + int(where.start)


def _count(flyer: _Channel, wheel: _Channel, f: IntArray, w: IntArray, wheel_targets: int) -> CountedStretch:
    if flyer.count is None and wheel.count is None:
        return count_both(flyer.t_s[f], wheel.t_s[w], wheel_targets)
    none_f, none_w = np.zeros(len(f), np.uint8), np.zeros(len(w), np.uint8)
    return CountedStretch(_as_counted(flyer, f), _as_counted(wheel, w), none_f, none_w)


def _as_counted(channel: _Channel, index: IntArray) -> Counted:
    """Passages as reported, without repair: lines may stand for several pulses."""
    if channel.count is None or len(index) == 0:
        return Counted.one_each(channel.t_s[index])
    passage = np.cumsum(channel.count[index])
    # Two lines at one tick are one moment: only the later count is a knot.
    last = np.append(np.diff(channel.t_s[index]) > 0, True)
    return Counted(channel.t_s[index][last], (passage - channel.count[index][0])[last], np.zeros(int(last.sum()), bool))


def _find_angles(stretches: list[Stretch], rig: Rig) -> tuple[list[Stretch], dict[int, Angles]]:
    flyers = [s.flyer for s in stretches]
    flyers = same_zero(flyers, [c.t_s for c in flyers], rig.targets["f"])
    flyer_angles = angles_by_position([c.t_s for c in flyers], [c.passage for c in flyers], rig.targets["f"])
    wheels, position = [], []
    for f, s in zip(flyers, stretches, strict=True):
        whole, part = flyer_angles.turns(f.passage)
        turns = monotone_cubic(f.t_s, whole + part, s.wheel.t_s)
        position.append(turns if np.isfinite(turns).sum() >= 2 else s.wheel.t_s)
        wheels.append(s.wheel)
    wheels = same_zero(wheels, position, rig.targets["w"])
    seen = [np.isfinite(x) for x in position]
    wheel_angles = angles_by_position(
        [x[k] for x, k in zip(position, seen, strict=True)],
        [c.passage[k] for c, k in zip(wheels, seen, strict=True)],
        rig.targets["w"],
    )
    renumbered = [Stretch(s.run, f, w) for s, f, w in zip(stretches, flyers, wheels, strict=True)]
    return renumbered, {FLYER: flyer_angles, WHEEL: wheel_angles}


def _pieces(channel: _Channel) -> tuple[Piece, ...]:
    clean = np.flatnonzero(channel.flag == 0)
    return tuple(
        Piece(int(span), _as_counted(channel, clean[channel.span[clean] == span]))
        for span in np.unique(channel.span[clean])
    )


def _train(letter: int, channel: _Channel, filled: list[FloatArray], tick_hz: float) -> PulseTrain:
    added = np.concatenate(filled) if filled else np.empty(0)
    if len(added) == 0:
        return PulseTrain(letter, channel.tick, channel.flag, channel.count)
    tick = np.concatenate((channel.tick, np.rint(added * tick_hz).astype(np.int64)))
    flag = np.concatenate((channel.flag, np.full(len(added), Flag.FILLED, np.uint8)))
    order = np.argsort(tick, kind="stable")
    return PulseTrain(letter, tick[order], flag[order])
