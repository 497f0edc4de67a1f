"""One shaft's last passages: how fast it turns now, and how far it is in its turn."""

from __future__ import annotations

from collections import deque
from typing import Final

_MOST: Final = 256


class Passing:
    """Passages by tick. last: the last one's; None before the first."""

    def __init__(self) -> None:
        self.last: int | None = None
        self._total = 0
        self._ends: deque[tuple[int, int]] = deque(maxlen=_MOST)  # tick, passages up to and with it

    def add(self, ticks: int, count: int) -> None:
        """Take `count` passages, the last of them at `ticks`."""
        self._total += count
        self.last = ticks
        self._ends.append((ticks, self._total))

    def break_off(self) -> None:
        """Forget: lines were lost, so passages before and after must not be put together."""
        self._ends.clear()

    def per_tick(self, passages: int, within: float | None, now: int) -> float | None:
        """Passages a tick over the last `passages` at least, and over the last `within` ticks where that is more.

        A shaft that is late for its next passage has slowed: then the wait counts as if it came now.
        """
        if len(self._ends) < 2:
            return None
        last, total = self._ends[-1]
        first, made = last, 0
        for ticks, upto in reversed(self._ends):
            first, made = ticks, total - upto
            if made >= passages and (within is None or last - ticks >= within):
                break
        if last <= first:
            return None
        return min(made / (last - first), (made + 1) / max(now - first, 1)) if now - last > 0 else made / (last - first)

    def angle(self, targets: int, now: int) -> float | None:
        """Turns past the first passage, modulo 1, run on at the speed of the last two passages, never past the next."""
        if not self._ends:
            return None
        last, total = self._ends[-1]
        on = 0.0
        if len(self._ends) > 1:
            before, upto = self._ends[-2]
            step = (last - before) / max(total - upto, 1)
            on = min((now - last) / step, 0.95) if step > 0 else 0.0
        return ((total - 1) % targets + on) / targets % 1.0
