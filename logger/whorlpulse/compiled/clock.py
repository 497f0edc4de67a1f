"""From raw ticks to one clock, and each channel's pulses on it, in one pass each."""

from __future__ import annotations

from whorlpulse.pulses import ByteArray, FloatArray, IntArray


def unwrap_ticks(
    raw: IntArray, period: int, limit: int, disorder: int, silence: float, tick: IntArray, silent: IntArray
) -> int:
    """Unwrap raw ticks (n,) into tick (n,), and note rows after a wait above `silence` in silent; return how many.

    period: of the clock, a power of two, or 0 where it never wraps. From `limit` on a step is taken for one back. One
    back by more than `disorder` is for others to judge, and so is a tick beyond the clock's range; then, or where more
    silences are found than fit, -1 is returned.
    """
    found = 0
    clock = 0
    before = raw[0]
    for i in range(len(raw)):
        now = raw[i]
        step = now - before
        if period:
            if now >= period:
                return -1
            step = ((step + (period - limit)) & (period - 1)) - (period - limit)
        if step < -disorder:
            return -1
        if step > silence:
            if found == len(silent):
                return -1
            silent[found] = i
            found += 1
        clock += step
        tick[i] = clock
        before = now
    return found


def pick_channel(
    channel: ByteArray, clock: IntArray, letter: int, tick_hz: float, tick: IntArray, t_s: FloatArray
) -> bool:
    """Copy a channel's pulses from clock (n,) to tick (m,), and in seconds to t_s (m,); tell whether none goes back.

    m: how many pulses of the channel there are.
    """
    n = 0
    rising = True
    before = 0
    for i in range(len(channel)):
        if channel[i] == letter:
            now = clock[i]
            if n > 0 and now < before:
                rising = False
            tick[n] = now
            t_s[n] = now / tick_hz
            before = now
            n += 1
    return rising
