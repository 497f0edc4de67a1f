"""Measured length of yarn against time: what was drawn in, when, and how surely.

Three sources: the take-up roller's pulses, the spinner's `length` lines, and a total measured afterwards. Whatever
the source, the result is the same shape, so that twist needs to know only one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, sqrt
from typing import Literal

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, Piece
from whorlpulse.conditioning.roller_mending import unseen
from whorlpulse.pulses import ROLLER, FloatArray, IntArray
from whorlpulse.rig import Length, LengthMark, Rig

LengthSource = Literal["roller", "marks", "total", "bobbin"]

#: Waits between take-ups are longer than those within by at least this factor.
_PAUSE_TIMES = 2.0
#: A length is entered within about this time after the yarn passed in (common practice, no source).
_LATE_S = 0.5
#: With fewer pauses than this part of all intervals the yarn is taken up continuously.
_FEWEST_PAUSES = 0.01
#: Pulses of a roller from which it is said to run without pause.
_FEWEST_CONTINUOUS = 8


@dataclass(frozen=True)
class TakeUp:
    """One piece of yarn drawn in: it was twisted from start_s on and had passed in at end_s; length_m in metres."""

    start_s: float
    end_s: float
    length_m: float


@dataclass(frozen=True)
class MeasuredLength:
    """The yarn of a log in the order in which it was taken up.

    u_m: standard uncertainty of the total in metres, relative_u: the part of it that all pieces share, relative (a
    roller's circumference). end_gap_m: length within which the roller can't tell where a piece ends. end_u_s: how
    unsure the moment is at which the last piece had passed in.
    """

    source: LengthSource
    pieces: tuple[TakeUp, ...]
    u_m: float
    relative_u: float
    end_gap_m: float
    end_u_s: float = 0.0

    @property
    def total_m(self) -> float:
        """Length of all pieces."""
        return sum(p.length_m for p in self.pieces)


def measured_length(log: Conditioned, rig: Rig) -> MeasuredLength | None:
    """The best length that this log and rig have: a given total, else the roller, else `length` lines, else None.

    A total beats the others because it was asked for on purpose, after the spinning.
    """
    start, marks = count_from(log, rig)
    if rig.total is not None:
        return _from_total(log, rig.total, start)
    if rig.roller is not None and len(log.trains[ROLLER]) >= 2:
        return length_of_passages("roller", log.rolls, rig.roller, rig.targets["y"], start)
    if marks:
        return _from_marks(marks, start)
    return None


def _before_first_turn_s(log: Conditioned) -> float:
    """Just before the first passage, so that the part of a turn made up to it belongs to the yarn."""
    return min((s.start_s for s in log.stretches), default=0.0) - 0.5 / log.tick_hz


def count_from(log: Conditioned, rig: Rig) -> tuple[float, list[tuple[float, Length]]]:
    """When the yarn begins (a `length` line of 0, else the first turn), and the later marks as (time, length)."""
    placed = [(mark_time(log, rig, m), m.length) for m in rig.length_marks]
    start = _before_first_turn_s(log)
    marks: list[tuple[float, Length]] = []
    for t, length in sorted(placed, key=lambda p: p[0]):
        if length.m == 0:
            start, marks = t, []
        else:
            marks.append((t, length))
    return start, marks


def mark_time(log: Conditioned, rig: Rig, mark: LengthMark) -> float:
    """Seconds since the log's first row of a mark's raw tick: the wrap that lies nearest to the line's own place."""
    first, ticks = log.first_raw_tick, log.clocked.tick
    if len(ticks) == 0:
        return 0.0
    here = int(ticks[min(max(mark.row - 1, 0), len(ticks) - 1)])
    offset = mark.tick - first
    if rig.tick_bits:
        period = 1 << rig.tick_bits
        offset += round((here - offset) / period) * period
        if offset > ticks[-1] + period // 2 or offset < -(period // 2):
            offset = here
    return offset / rig.tick_hz


def _from_total(log: Conditioned, total: Length, start_s: float) -> MeasuredLength:
    """One piece, up to the last take-up where a roller shows it (twist made after that waits), else the last turn."""
    end = max((s.end_s for s in log.stretches), default=start_s)
    t = np.concatenate([p.counted.t_s for p in log.rolls]) if log.rolls else np.empty(0)
    if (t > start_s).sum() >= _FEWEST_CONTINUOUS:
        last = np.array([len(t) - 1])
        end = min(end, float((t[last] + _half_a_gap_later(t, last))[0]))
    return MeasuredLength("total", (TakeUp(start_s, end, total.m),), total.m_u, 0.0, 0.0)


def _from_marks(marks: Sequence[tuple[float, Length]], start_s: float) -> MeasuredLength:
    pieces, since = [], start_s
    for t, length in marks:
        pieces.append(TakeUp(since, t, length.m))
        since = t
    u = float(np.sqrt(sum(length.m_u**2 for _, length in marks)))
    return MeasuredLength("marks", tuple(pieces), u, 0.0, 0.0, end_u_s=_LATE_S)


def length_of_passages(
    source: LengthSource, rolls: Sequence[Piece], roller: Length, targets: int, start_s: float
) -> MeasuredLength:
    """Cut the roller's pulses at its pauses; across lost lines no length is counted.

    source: the roller, or what is told in its stead as passages at even lengths (`estimators.bobbin_length`).
    Passages that were missed without a trace are reckoned in, by those that left one (`roller_mending.unseen`).

    The roller stands anywhere between two targets at both ends of a count, so n pulses are n gaps give or take
    one: triangular over ± one gap, u = gap/√6 (GUM 4.3.9 and F.2.2.1).
    """
    gap = roller.m / targets
    waits = np.concatenate([np.diff(p.counted.t_s) for p in rolls]) if rolls else np.empty(0)
    pause = _pause_s(waits)
    never_rests = not pause and _turns_mostly(rolls, start_s)
    pieces: list[TakeUp] = []
    blocks = 0
    for number, roll in enumerate(rolls):
        t = roll.counted.t_s[roll.counted.t_s >= start_s]
        if len(t) == 0:
            continue
        blocks += 1
        last = np.append(np.flatnonzero(np.diff(t) > pause), len(t) - 1) if pause else np.arange(len(t))
        ends = t[last] + _half_a_gap_later(t, last)
        since, done = start_s, -1
        if never_rests and len(t) >= _FEWEST_CONTINUOUS:
            # A roller that never rests: from passage to passage both length and turns are known, no end is guessed.
            since, done, last, ends = float(t[0]), 0, last[1:], t[1:]
        elif number > 0 and pieces:
            # After lost lines the yarn before the first whole take-up has an unknown share of its turns.
            since, done, last, ends = float(ends[0]), int(last[0]), last[1:], ends[1:]
        for i, end in zip(last.tolist(), ends.tolist(), strict=True):
            pieces.append(TakeUp(since, end, (i - done) * gap))
            since, done = end, i
    # Missed passages that don't show are spread over all of the yarn.
    more, more_u = unseen([r.counted for r in rolls])
    passages = sum(len(r.counted) for r in rolls)
    if more:
        pieces = [replace(p, length_m=p.length_m * (1.0 + more / passages)) for p in pieces]
    relative = roller.m_u / roller.m
    total = sum(p.length_m for p in pieces)
    end_gap = 0.0 if never_rests and len(pieces) >= _FEWEST_CONTINUOUS - 1 else gap
    u = hypot(total * relative, end_gap * sqrt(max(blocks, 1) / 6), more_u * gap)
    return MeasuredLength(source, tuple(pieces), u, relative, end_gap)


def _turns_mostly(rolls: Sequence[Piece], start_s: float) -> bool:
    """Whether the roller turns for most of the time; a single draw has no pause either, but long waits before it."""
    seen = [p.counted.t_s[p.counted.t_s >= start_s] for p in rolls]
    spans = [float(t[-1] - t[0]) for t in seen if len(t)]
    return bool(spans) and sum(spans) > 0.5 * (max(float(t[-1]) for t in seen if len(t)) - start_s)


def _half_a_gap_later(t: FloatArray, last: IntArray) -> FloatArray:
    """Seconds by which a take-up outlasts its last pulse (k,): on average the roller makes half a gap more."""
    waits = np.diff(t, prepend=t[0] - (t[1] - t[0] if len(t) > 1 else 0.0))
    before = waits[last]
    after = np.append(np.diff(t), np.inf)[last]
    rest: FloatArray = 0.5 * np.minimum(np.minimum(before, after), np.median(waits))
    return rest


def _pause_s(waits: FloatArray) -> float:
    """The wait that parts two take-ups, or 0 when the roller never pauses between them.

    Waits within a take-up and between two of them are two kinds; the widest step between neighbours in size parts
    them.
    """
    if len(waits) < 4:
        return 0.0
    size = np.sort(waits[waits > 0])
    size = size[len(size) // 5 :]
    if len(size) < 2:
        return 0.0
    widest = int(np.argmax(size[1:] / size[:-1]))
    if size[widest + 1] < _PAUSE_TIMES * size[widest]:
        return 0.0
    pause = float(np.sqrt(size[widest] * size[widest + 1]))
    return pause if _FEWEST_PAUSES < float((waits > pause).mean()) < 0.5 else 0.0
