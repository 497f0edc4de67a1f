"""From wrapping ticks to one clock that runs through the whole log.

The keep-alives tick at least once a second, so between two lines the clock can't have wrapped unseen, and a
tick that seems to go back by more than the lines' own disorder means that the board restarted.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.pulses import KEEP_ALIVE, BoolArray, IntArray, Rows

#: Interrupts of coincident pulses are served one after another, so lines may stand in disorder by this much.
DISORDER_S = 0.02
#: Without keep-alives a clock that wraps sooner than this may wrap unseen while the wheel stands.
_SHORT_WRAP_S = 600.0
#: With keep-alives once a second, this much silence means that the board was not heard.
_SILENCE_S = 3.5
#: All steps together stay below it, so that a time in seconds keeps every tick: ten days by a clock of 10 GHz.
_MOST_TICKS = 1 << 53
_BLOCK = 32_768  # rows at a time, which stay in the cache


@dataclass(frozen=True)
class Clocked:
    """Rows on an unwrapped clock.

    tick (n,) int64: ticks since the first row; after a restart the clock goes on from where it stood.
    usable (n,) bool: False where the tick cannot be believed (beyond the clock's range, or alone out of line).
    restarts (r,): rows at which the clock jumped back. silences (s,): rows that came after a silence.
    """

    tick: IntArray
    usable: BoolArray
    restarts: IntArray
    silences: IntArray


def unwrap(rows: Rows, tick_hz: float, tick_bits: int) -> Clocked:
    """Unwrap the ticks of `rows`; see `Clocked`.

    tick_bits 0 means that the clock never wraps.
    """
    raw = rows.tick
    usable = np.ones(len(raw), bool) if not tick_bits else raw < (1 << tick_bits)
    keep_alives = bool((rows.channel == KEEP_ALIVE).any())
    limits = _limits(tick_bits, tick_hz, keep_alives=keep_alives)
    step, back = _steps(_picked(raw, usable), *limits)
    glitches = _lone_glitches(step, back, tick_hz)
    if len(glitches):
        usable[np.flatnonzero(usable)[glitches]] = False
        step, back = _steps(_picked(raw, usable), *limits)
    step[back] = 0
    back = _without_leaps(step, back)
    silent = np.flatnonzero(step > _SILENCE_S * tick_hz) if keep_alives else back[:0]
    if usable.all():
        return Clocked(np.cumsum(step, out=step), usable, back, silent)
    kept = np.flatnonzero(usable)
    all_steps = np.zeros(len(raw), np.int64)
    all_steps[kept] = step
    return Clocked(np.cumsum(all_steps), usable, kept[back], kept[silent])


def _limits(tick_bits: int, tick_hz: float, *, keep_alives: bool) -> tuple[int | None, int, int]:
    """The clock's period, None if it never wraps; ticks of disorder; and the step from which on it is one back."""
    period = 1 << tick_bits if tick_bits else None
    disorder = int(np.ceil(DISORDER_S * tick_hz))
    if period is None:
        return None, disorder, 0
    may_wrap_unseen = period / tick_hz < _SHORT_WRAP_S and not keep_alives
    return period, disorder, period - disorder if may_wrap_unseen else period // 2


def _without_leaps(step: IntArray, back: IntArray) -> IntArray:
    """Take out, in place, steps that no board can have made; return the rows (r,) before which the clock began anew.

    Only where all steps (n,) together would be more than any recording lasts: damaged digits, perhaps again and again.
    """
    if step.sum(dtype=float) < _MOST_TICKS:
        return back
    far = np.flatnonzero(step > _MOST_TICKS // len(step))
    step[far] = 0
    return np.union1d(back, far)


def _picked(raw: IntArray, usable: BoolArray) -> IntArray:
    return raw if usable.all() else raw[usable]


def _steps(raw: IntArray, period: int | None, disorder: int, limit: int) -> tuple[IntArray, IntArray]:
    """Signed steps (n,) from row to row, the first 0, and the rows (r,) that jump back."""
    # From `limit` on a step is taken for one back: with it as the lowest value the steps fit into one period.
    step = np.empty_like(raw)
    step[:1] = 0
    for start in range(1, len(raw), _BLOCK):
        block = step[start : start + _BLOCK]
        np.subtract(raw[start : start + _BLOCK], raw[start - 1 : start - 1 + len(block)], out=block)
        if period is not None:
            block += period - limit
            block &= period - 1
            block -= period - limit
    return step, np.flatnonzero(step < -disorder)


def _lone_glitches(step: IntArray, back: IntArray, tick_hz: float) -> IntArray:
    """Rows whose tick alone is out of line: leaving them out makes the clock run on.

    A damaged digit in a line without a checksum makes such a row. Row i jumps back either because the row
    before it was too high, or because it is too low itself.
    """
    disorder = DISORDER_S * tick_hz
    found = []
    for i in back.tolist():
        if i >= 2 and step[i] + step[i - 1] >= -disorder:
            found.append(i - 1)
        elif i >= 1 and i + 1 < len(step) and step[i] + step[i + 1] >= -disorder:
            found.append(i)
    return np.unique(np.array(found, np.int64))
