"""Draws: the yarn drafted between two take-ups, its length, turns, treadles, and the rhythm of the hands.

A draw begins when the one before was in and ends when it is in itself (`take_ups`). All flyer turns made meanwhile are
its own: those before it began to wind on wait in the drafted length, and go in with it. So

    T_k = (φ(end_k) − φ(start_k)) / L_k,    waiting_k = φ(winding_k) − φ(start_k)

φ: the flyer's turns. Which pulses show the take-ups: the roller's, else the turns wound on (bobbin against flyer), else
the moments of the `length` lines, of which each is then taken for one draw. Draws in which lines were lost keep their
times; their turns and lengths are not known. Validated on simulated long draws, short draws and park and draft with
missed, doubled and bouncing pulses and lost lines (tests/draws).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, Piece
from whorlpulse.estimators.draw_rhythm import Rhythm, rhythm_of
from whorlpulse.estimators.spun_draw import SpunDraw
from whorlpulse.estimators.take_ups import TakeUps, take_ups
from whorlpulse.length import MeasuredLength
from whorlpulse.phase import FlyerCount, shaft_turns
from whorlpulse.pulses import ROLLER, WHEEL, FloatArray
from whorlpulse.rig import Rig

Manner = Literal["draws", "parked", "continuous", "not-seen"]
SeenBy = Literal["roller", "bobbin", "marks"]

#: Park and draft: in more than this share of the draws the wheel stood.
_PARKED = 0.5
#: A rest of the wheel shorter than this is no rest.
_SHORTEST_REST_S = 1.0


@dataclass(frozen=True)
class Draws:
    """The draws of a log, in order. manner: how the yarn was taken up; draws are given for `draws` and `parked`.

    seen_by: what showed the take-ups, None for `not-seen`. twist_u_share: standard uncertainty of one draw's twist as a
    share of it, from where the roller and the flyer stood at its ends.
    """

    manner: Manner
    seen_by: SeenBy | None = None
    draws: tuple[SpunDraw, ...] = ()
    rhythm: Rhythm | None = None
    twist_u_share: float | None = None


@dataclass(frozen=True)
class _Ticks:
    """Passages that show the yarn going in: t_s (n,) and the metres that were in at each, metres (n,)."""

    t_s: FloatArray
    metres: FloatArray
    seen_by: SeenBy
    gap_m: float


def find_draws(
    log: Conditioned, rig: Rig, yarn: MeasuredLength, flyer: FlyerCount, wound: Sequence[Piece] = ()
) -> Draws:
    """Return the draws of a conditioned log whose yarn and flyer turns are measured.

    wound: passages told by the bobbin; where another source gives the length, they share that out.
    """
    if not yarn.pieces:
        return Draws("not-seen")
    ticks = _roller_ticks(log, rig, yarn) or _wound_ticks(wound, yarn)
    if ticks is not None:
        found = take_ups(ticks.t_s, flyer.turns_at(ticks.t_s))
        if found is None:
            return Draws("continuous" if len(ticks.t_s) > 1 else "not-seen", ticks.seen_by)
        return _told(log, _between(log, flyer, found, ticks, yarn.pieces[0].start_s), ticks.seen_by, ticks.gap_m, flyer)
    if yarn.source == "marks":
        return _told(log, _of_marks(log, flyer, yarn), "marks", 0.0, flyer)
    return Draws("not-seen")


def _told(log: Conditioned, draws: Sequence[SpunDraw], seen_by: SeenBy, gap_m: float, flyer: FlyerCount) -> Draws:
    parked = np.mean([d.stood_s > 0 for d in draws]) > _PARKED
    known = [d for d in draws if d.length_m and d.flyer_turns]
    share = None
    if known and seen_by != "marks":
        by_length = gap_m / np.median([d.length_m or 0.0 for d in known])
        by_turns = flyer.target_turns / np.median([d.flyer_turns or 0.0 for d in known])
        share = float(np.hypot(by_length, by_turns) / np.sqrt(6.0))  # both ends between two targets: triangular
    return Draws("parked" if parked else "draws", seen_by, tuple(draws), rhythm_of(draws, parked=bool(parked)), share)


def _roller_ticks(log: Conditioned, rig: Rig, yarn: MeasuredLength) -> _Ticks | None:
    """The roller's passages since the yarn began; None without a roller.

    Without a length per turn of its own, or where another length is used, the roller shares that one out.
    """
    if len(log.trains[ROLLER]) < 2 or ROLLER in log.coarse:
        return None
    start_s = yarn.pieces[0].start_s if yarn.pieces else 0.0
    t = np.sort(np.concatenate([piece.counted.t_s for piece in log.rolls]))
    t = t[t >= min(start_s, float(t[-1]))] if len(t) else t
    if len(t) < 2:
        return None
    own = rig.roller is not None and yarn.source == "roller"
    gap = rig.roller.m / rig.targets["y"] if own and rig.roller is not None else yarn.total_m / len(t)
    return _Ticks(t, gap * np.arange(1.0, len(t) + 1.0), "roller", gap)


def _wound_ticks(wound: Sequence[Piece], yarn: MeasuredLength) -> _Ticks | None:
    """The passages that the bobbin told; None without any."""
    t = np.concatenate([piece.counted.t_s for piece in wound]) if wound else np.empty(0)
    if len(t) < 2:
        return None
    gap = yarn.total_m / len(t)
    return _Ticks(t, gap * np.arange(1.0, len(t) + 1.0), "bobbin", gap)


def _between(
    log: Conditioned, flyer: FlyerCount, found: TakeUps, ticks: _Ticks, start_s: float
) -> tuple[SpunDraw, ...]:
    """Return one draw for each take-up."""
    metres = np.diff(ticks.metres[found.last], prepend=0.0)
    starts = np.concatenate(([start_s], found.end_s[:-1]))
    begins = np.maximum(found.begin_s, starts)
    return _draws(log, flyer, starts, begins, found.end_s, metres)


def _of_marks(log: Conditioned, flyer: FlyerCount, yarn: MeasuredLength) -> tuple[SpunDraw, ...]:
    """Return one draw for each `length` line; when it began to wind on is not known."""
    starts, ends, metres = (
        np.array(column) for column in zip(*[(p.start_s, p.end_s, p.length_m) for p in yarn.pieces], strict=True)
    )
    return _draws(log, flyer, starts, np.full(len(ends), np.nan), ends, metres)


def _draws(
    log: Conditioned, flyer: FlyerCount, start: FloatArray, begin: FloatArray, end: FloatArray, metres: FloatArray
) -> tuple[SpunDraw, ...]:
    """Put turns and treadles to each draw; all (m,)."""
    lost = np.searchsorted(log.break_s, end, side="right") > np.searchsorted(log.break_s, start, side="right")
    lost |= flyer.block_at(start) != flyer.block_at(end)
    turns = flyer.turns_at(end) - flyer.turns_at(start)
    waiting = flyer.turns_at(begin) - flyer.turns_at(start)
    wheel = _wheel_turns_at(log, np.stack([start, end]))
    treadles = wheel[1] - wheel[0]
    rests = _rests(log)
    draws = []
    for k in range(len(end)):
        stood = sum(max(min(b, end[k]) - max(a, start[k]), 0.0) for a, b in rests)
        draws.append(
            SpunDraw(
                start_s=float(start[k]),
                winding_s=_known(begin[k]),
                end_s=float(end[k]),
                length_m=None if lost[k] else float(metres[k]),
                flyer_turns=None if lost[k] else float(turns[k]),
                waiting_turns=None if lost[k] else _known(waiting[k]),
                treadles=None if lost[k] else _known(treadles[k]),
                stood_s=float(stood),
            )
        )
    return tuple(draws)


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _rests(log: Conditioned) -> list[tuple[float, float]]:
    """Return from when to when the wheel stood between two runs."""
    pairs = zip(log.stretches[:-1], log.stretches[1:], strict=True)
    gaps = [(a.end_s, b.start_s) for a, b in pairs if a.run != b.run]
    return [(a, b) for a, b in gaps if b - a >= _SHORTEST_REST_S]


def _wheel_turns_at(log: Conditioned, t_s: FloatArray) -> FloatArray:
    """Return the wheel's turns at t_s (any shape), NaN without a wheel sensor; over a stop it keeps its angle.

    Before its first and after its last passage half a gap more is the likeliest.
    """
    times, turns, stand = [], [], 0.0
    angles = log.angles[WHEEL]
    for stretch in log.stretches:
        if len(stretch.wheel) < 1:
            continue
        made = stand + shaft_turns(stretch.wheel, angles).since(0)
        times.append(stretch.wheel.t_s)
        turns.append(made)
        stand = float(made[-1]) + 1.0 / len(angles.angle)
    if not times:
        return np.full(np.shape(t_s), np.nan)
    knots, half = np.concatenate(turns), 0.5 / len(angles.angle)
    at: FloatArray = np.interp(t_s, np.concatenate(times), knots, knots[0] - half, knots[-1] + half)
    return at
