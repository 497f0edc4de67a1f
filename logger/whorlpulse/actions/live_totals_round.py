"""When whole logs are measured: at each stop of a wheel and now and then, within a small share of a processor."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from whorlpulse.actions.live_totals import TotalsProcess
    from whorlpulse.actions.live_wheel import LiveWheel

#: A wheel's log is measured when it has stopped, or after so long, and at the earliest when it has so many rows.
_NOW_AND_THEN_S: Final = 60.0
_FEWEST_ROWS: Final = 60
#: The next round waits so many times as long as this one took, and at least `_REST_S`.
_REST_PER_WORK: Final = 20.0
_REST_S: Final = 5.0
_LOOK_S: Final = 0.5
#: How far measuring steps back while pulses come (as the nice command counts).
_NICENESS: Final = 10


class TotalsRounds:
    """Measures the logs of some wheels, one round after another."""

    def __init__(self, wheels: Sequence[LiveWheel], process: TotalsProcess) -> None:
        self._wheels, self._process = wheels, process
        self._measured_s: dict[str, float] = {}

    async def run(self) -> None:
        """Go on until it is cancelled."""
        began_s = time.monotonic()
        self._measured_s = dict.fromkeys((w.setup.id for w in self._wheels), began_s)
        while True:
            await asyncio.sleep(_LOOK_S)
            due = [w for w in self._wheels if self._is_due(w)]
            if due:
                began_s = time.monotonic()
                await self._measure(due, _NICENESS)
                await asyncio.sleep(max(_REST_PER_WORK * (time.monotonic() - began_s), _REST_S))

    async def last(self) -> None:
        """Measure all logs, once nothing more is written to them and no pulse is waiting."""
        await self._measure([w for w in self._wheels if w.figures.rows_seen], 0)

    def _is_due(self, wheel: LiveWheel) -> bool:
        rows = wheel.figures.rows_seen
        if rows < _FEWEST_ROWS or (rows == wheel.totals_rows and wheel.totals_final == wheel.ended):
            return False
        waited_s = time.monotonic() - self._measured_s[wheel.setup.id]
        turned = wheel.figures.turned_since(wheel.totals_rows)
        return wheel.ended or waited_s > _NOW_AND_THEN_S or (turned and wheel.figures.standing())

    async def _measure(self, wheels: Sequence[LiveWheel], niceness: int) -> None:
        orders = [(w, w.figures.rows_seen, w.ended, order) for w in wheels if (order := w.order()) is not None]
        found = await self._process.measure([order for *_, order in orders], niceness)
        for (wheel, rows, ended, _), totals in zip(orders, found, strict=True):
            self._measured_s[wheel.setup.id] = time.monotonic()
            wheel.take_totals(totals, rows, final=ended)
