"""The chain of conditioning, in the order in which faults hide one another.

1. unwrap: without one clock no interval means anything.
2. spans: a turn count must not cross lost lines.
3. debounce: bounce would look like speed, so it goes before anything that judges speed.
4. stops: a stop and a hand on the wheel would look like missed pulses, so they go before repair.
5. both shafts: what was missed or doubled, the wheel and the shaft that its band drives judged by each other. That is
   the flyer; but where a bobbin is sensed that turns faster, it is the bobbin.
6. follower: the other one of flyer and bobbin is judged by the one that leads, because the yarn ties them.
7. targets: angles can be estimated only from passages numbered rightly.
The roller turns with the yarn alone: its missed pulses are told by its own waits (`roller_mending`).

Every stage flags, none deletes: the trains hold each reported pulse with what was decided about it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.debounce import bounced, bounced_in_draws
from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.conditioning.roller_mending import mend_roller
from whorlpulse.conditioning.spans import span_starts
from whorlpulse.conditioning.stops import ShaftTimes, bouts
from whorlpulse.conditioning.stretches import Channel, Shafts, as_counted, count_stretches, leading_shaft
from whorlpulse.conditioning.stretches import Stretch as Stretch
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
class Piece:
    """One channel's passages between two breaks of the count (for roller and bobbin), and the break's number."""

    span: int
    counted: Counted


@dataclass(frozen=True)
class Conditioned:
    """A log made countable.

    trains: each channel's reported pulses with flags (and `Flag.FILLED` ones put in). stretches in order of time.
    angles: of the targets of wheel, flyer and bobbin. rolls: the roller's passages by span. break_s (b,): times at
    which lines were lost or the clock failed. coarse: channels whose lines stand for several pulses. bobbin_leads: the
    bobbin is sensed and turns faster than the flyer, or alone is sensed; then the wheel judged it.
    """

    tick_hz: float
    first_raw_tick: int
    duration_s: float
    trains: Mapping[int, PulseTrain]
    stretches: tuple[Stretch, ...]
    runs: int
    angles: Mapping[int, Angles]
    rolls: tuple[Piece, ...]
    clocked: Clocked
    break_s: FloatArray
    coarse: frozenset[int]
    bobbin_leads: bool = False


def condition(rows: Rows, rig: Rig) -> Conditioned:
    """Run the whole chain over a log's rows (see the module's head for the order and why)."""
    clocked = unwrap(rows, rig.tick_hz, rig.tick_bits)
    starts = span_starts(rows, clocked)
    channels = {c: _channel(rows, clocked, starts, rig.tick_hz, c) for c in SHAFTS}
    for letter, channel in channels.items():
        if channel.count is None:
            find = bounced_in_draws if letter in (ROLLER, BOBBIN) else bounced
            channel.flag[find(channel.t_s)] |= np.uint8(Flag.BOUNCE)
    shafts = leading_shaft(channels, rig)
    if FLYER in shafts.slows and channels[FLYER].count is None:
        channels[FLYER].flag[:] = np.where(bounced_in_draws(channels[FLYER].t_s), np.uint8(Flag.BOUNCE), np.uint8(0))
    break_s = clocked.tick[starts] / rig.tick_hz
    found = bouts(_times(channels[shafts.leader]), _times(channels[WHEEL]), break_s)
    filled: dict[int, list[FloatArray]] = {FLYER: [], WHEEL: [], BOBBIN: []}
    stretches = count_stretches(channels, shafts, found, rig, filled)
    stretches, angles = _find_angles(stretches, rig, shafts)
    rolls = _pieces(channels[ROLLER])
    filled[ROLLER] = [p.counted.t_s[p.counted.filled] for p in rolls]
    duration = float(clocked.tick[-1] / rig.tick_hz) if len(rows) else 0.0
    return Conditioned(
        tick_hz=rig.tick_hz,
        first_raw_tick=int(rows.tick[np.argmax(clocked.usable)]) if len(rows) else 0,
        duration_s=duration,
        trains={c: _train(c, ch, filled.get(c, []), rig.tick_hz) for c, ch in channels.items()},
        stretches=tuple(stretches),
        runs=1 + max((s.run for s in stretches), default=-1),
        angles=angles,
        rolls=rolls,
        clocked=clocked,
        break_s=break_s,
        coarse=frozenset(c for c, ch in channels.items() if ch.count is not None),
        bobbin_leads=shafts.leader == BOBBIN,
    )


def _channel(rows: Rows, clocked: Clocked, starts: IntArray, tick_hz: float, letter: int) -> Channel:
    mine = rows.channel == letter
    if not clocked.usable.all():
        mine &= clocked.usable
    tick = clocked.tick[mine]
    count = None
    here = mine[rows.count_row]
    if here.any():
        count = np.ones(len(tick), np.int64)
        count[np.searchsorted(np.flatnonzero(mine), rows.count_row[here])] = rows.count_value[here]
    span = np.broadcast_to(np.int64(0), len(tick))  # one span most often, and then one number stands for all
    if len(starts):
        before = [np.count_nonzero(mine[i:j]) for i, j in pairwise([0, *starts.tolist(), len(mine)])]
        span = np.repeat(np.arange(len(starts) + 1), before)
    if (tick[1:] < tick[:-1]).any():
        order = np.argsort(tick, kind="stable")
        span, tick = span[order], tick[order]
        count = count[order] if count is not None else None
    return Channel(letter, tick, tick / tick_hz, span, np.zeros(len(tick), np.uint8), count)


def _times(channel: Channel) -> ShaftTimes:
    kept = slice(None) if not channel.flag.any() else channel.flag == 0
    t_s = channel.t_s[kept]
    one_each = np.broadcast_to(1.0, len(t_s))
    passages = one_each if channel.count is None else channel.count[kept].astype(float)
    return ShaftTimes(t_s, passages, channel.count is not None)


def _find_angles(stretches: list[Stretch], rig: Rig, shafts: Shafts) -> tuple[list[Stretch], dict[int, Angles]]:
    flyers, flyer_angles = _by_time([s.flyer for s in stretches], rig.targets["f"])
    bobbins, bobbin_angles = _by_time([s.bobbin for s in stretches], rig.targets["b"])
    leaders, angles = (flyers, flyer_angles) if shafts.leader == FLYER else (bobbins, bobbin_angles)
    wheels, position = [], []
    for f, s in zip(leaders, stretches, strict=True):
        turns = _turns_at(f, angles, s.wheel.t_s)
        position.append(turns if np.isfinite(turns).sum() >= 2 else s.wheel.t_s)
        wheels.append(s.wheel)
    wheels = same_zero(wheels, position, rig.targets["w"])
    seen = [np.isfinite(x) for x in position]
    wheel_angles = angles_by_position(
        [x[k] for x, k in zip(position, seen, strict=True)],
        [c.passage[k] for c, k in zip(wheels, seen, strict=True)],
        rig.targets["w"],
    )
    renumbered = [Stretch(s.run, f, w, b) for s, f, w, b in zip(stretches, flyers, wheels, bobbins, strict=True)]
    return renumbered, {FLYER: flyer_angles, WHEEL: wheel_angles, BOBBIN: bobbin_angles}


def _turns_at(counted: Counted, angles: Angles, t_s: FloatArray) -> FloatArray:
    """The shaft's turns at times t_s (n,), NaN where it wasn't seen."""
    if len(angles.angle) == 1:
        return counted.passages_at(t_s)
    whole, part = angles.turns(counted.passage)
    return monotone_cubic(counted.t_s, whole + part, t_s)


def _by_time(counted: list[Counted], targets: int) -> tuple[list[Counted], Angles]:
    """A shaft's pieces renumbered to one target 0, and its targets' angles, from time alone."""
    pieces = same_zero(counted, [c.t_s for c in counted], targets)
    return pieces, angles_by_position([c.t_s for c in pieces], [c.passage for c in pieces], targets)


def _pieces(channel: Channel) -> tuple[Piece, ...]:
    """The roller's unbroken counts, mended where each line stands for one pulse."""
    clean = np.flatnonzero(channel.flag == 0)
    spans = np.unique(channel.span[clean])
    counted = [as_counted(channel, clean[channel.span[clean] == span]) for span in spans]
    mended = counted if channel.count is not None else mend_roller(counted)
    return tuple(Piece(int(span), c) for span, c in zip(spans, mended, strict=True))


def _train(letter: int, channel: Channel, filled: list[FloatArray], tick_hz: float) -> PulseTrain:
    added = np.concatenate(filled) if filled else np.empty(0)
    if len(added) == 0:
        return PulseTrain(letter, channel.tick, channel.flag, channel.count)
    tick = np.concatenate((channel.tick, np.rint(added * tick_hz).astype(np.int64)))
    flag = np.concatenate((channel.flag, np.full(len(added), Flag.FILLED, np.uint8)))
    order = np.argsort(tick, kind="stable")
    return PulseTrain(letter, tick[order], flag[order])
