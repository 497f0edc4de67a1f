"""One wheel of a live view: its source heard, its log kept, its window measured again and again."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from concurrent.futures import Executor
from typing import TYPE_CHECKING, Final

from whorlpulse.actions.listening import Habits, Listening
from whorlpulse.actions.live_counts import LiveCounts
from whorlpulse.actions.live_setup import RigSoFar, WheelSetup
from whorlpulse.actions.live_totals import Order
from whorlpulse.sources.events import Event, SourceUnavailable
from whorlpulse.sources.files import SourceError
from whorlpulse.sources.logwriter import LogWriter

if TYPE_CHECKING:
    from whorlpulse.actions.live_course import Course
    from whorlpulse.actions.live_window import WindowFigures
    from whorlpulse.findings.live import Totals

#: The window is measured again after this at the earliest, and takes at most this share of a processor; where more
#: than `_USUAL_PER_S` lines come, a share that falls with their number, so that a pulse costs no more.
_WINDOW_S: Final = 0.4
SHARE: Final = 0.025
_USUAL_PER_S: Final = 40.0
#: A source that could not be reached at first is tried again after so long, where other wheels go on.
_AGAIN_S: Final = 3.0


class LiveWheel:
    """Runs one wheel. course: what is known from its windows; totals: what is known of the whole log."""

    def __init__(
        self,
        setup: WheelSetup,
        changed: Callable[[], None],
        measuring: Executor,
        habits: Habits | None = None,
        share: float = SHARE,
    ) -> None:
        """changed: is told that something new may be shown. measuring: where windows are measured, one at a time."""
        from whorlpulse.actions.live_course import Course

        self.setup, self.changed = setup, changed
        self._measuring, self._share = measuring, share
        self.habits = habits or Habits()
        self.figures = LiveCounts(float(getattr(setup.source, "speed", 1.0)), read_m=lambda text: setup.read_m(text).m)
        self.course: Course = Course(setup.plan, setup.pace_per_min)
        self.listening = Listening(setup.source, self._open_log, self.figures, self.habits)
        self.rigs = RigSoFar(setup)
        self.totals: Totals | None = None
        self.totals_rows = 0
        self.totals_final = False
        self.ended = False
        self.stopped: str | None = None
        self.failing: str | None = None
        self._came = asyncio.Event()

    async def run(self, *, alone: bool) -> None:
        """Listen until the source has no more to say.

        A source that cannot be reached at first, and a log that cannot grow, raise SourceError where the wheel is
        alone; among others the source is tried again, and the wheel ends with its log.
        """
        beside = [asyncio.ensure_future(w) for w in (self._to_disk(), self.listening.ask_greeting(), self._windows())]
        listening = asyncio.ensure_future(self._listen(alone=alone))
        try:
            done, _ = await asyncio.wait([listening, beside[0]], return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                task.result()
        except SourceError as stopped:
            self.stopped = str(stopped)
            if alone:
                raise
        finally:
            for task in [listening, *beside]:
                task.cancel()
            await asyncio.gather(listening, *beside, return_exceptions=True)
            try:
                await self.listening.close()
            except SourceError as stopped:
                self.stopped = self.stopped or str(stopped)
            self._take_window(self._window_measure()())
            self.ended = True
            self.changed()

    def order(self) -> Order | None:
        """Return what has to be measured to know the whole log so far; None before there is a log."""
        setup = self.setup
        if self.listening.keeper.log is None:
            return None
        upto = None if self.ended else setup.path.stat().st_size
        return Order(setup.path, setup.path.name, setup.rig_of, upto, setup.plan, tuple(setup.references))

    def take_totals(self, totals: Totals | None, rows: int, *, final: bool) -> None:
        """Take the totals of the log's first `rows` rows; None: not measured. final: there are no more."""
        self.totals_rows, self.totals_final = rows, final
        if totals is not None:
            self.totals = totals
            self.course.settle(totals)
        self.changed()

    def targets(self, letter: str) -> int:
        """Return how many targets a shaft has, by option, wheel file or log."""
        rig = self.rigs.under(self.figures.header)
        return rig.targets[letter] if rig is not None else self.figures.header.targets[letter]

    async def _listen(self, *, alone: bool) -> None:
        while True:
            try:
                await self.listening.listen(self._heard)
            except SourceUnavailable as missing:
                if alone:
                    raise
                self.failing = str(missing)
                self.changed()
                await asyncio.sleep(_AGAIN_S)
            else:
                return

    async def _to_disk(self) -> None:
        if self.setup.kept:
            await self.listening.to_disk()
        await asyncio.Event().wait()  # what nobody keeps need not outlive a power cut

    def _open_log(self) -> LogWriter:
        return LogWriter(self.setup.path) if self.setup.kept else LogWriter(self.setup.path, sync=lambda _: None)

    def _heard(self, event: Event) -> None:
        self.failing = None
        self._came.set()
        self.changed()

    async def _windows(self) -> None:
        """Measure the window again and again while lines come, within its share of a processor."""
        loop = asyncio.get_running_loop()
        while True:
            await self._came.wait()
            self._came.clear()
            rows, began_s = self.figures.rows_seen, time.monotonic()
            figures, took_s = await loop.run_in_executor(self._measuring, _timed, self._window_measure())
            self._take_window(figures)
            await asyncio.sleep(max(_WINDOW_S, took_s / self._share))
            per_s = (self.figures.rows_seen - rows) / (time.monotonic() - began_s)
            await asyncio.sleep(took_s / self._share * max(per_s / _USUAL_PER_S - 1.0, 0.0))

    def _window_measure(self) -> Callable[[], WindowFigures | None]:
        """Take the window as it is now, and return what measures it."""
        log, setup = self.figures.window(), self.setup
        rig = self.rigs.of_window(self.figures.header, log) if log is not None else None

        def measure() -> WindowFigures | None:
            if log is None or rig is None:
                return None
            from whorlpulse.actions.live_window import measure_window

            try:
                return measure_window(log, rig, setup.references, setup.plan)
            except Exception:  # whatever the arithmetic makes of the rows, the recording must go on
                return None

        return measure

    def _take_window(self, figures: WindowFigures | None) -> None:
        if figures is not None:
            self.course.take(figures, self.figures.wheel_per_min(self.targets("w")))
            self.changed()


def _timed(measure: Callable[[], WindowFigures | None]) -> tuple[WindowFigures | None, float]:
    """Return the figures and the processor seconds that they took."""
    began_s = time.thread_time()
    found = measure()
    return found, time.thread_time() - began_s
