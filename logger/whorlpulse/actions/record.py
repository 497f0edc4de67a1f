"""Record a source to a log: raw bytes first, then the host's lines, then figures for whoever watches.

Everything runs in one event loop; forcing the file onto the disk and the ratio so far run in threads, so that
neither a slow disk nor the arithmetic keeps a pulse waiting. Source, log, display, keys and the wish to stop
are arguments.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable, Coroutine
from typing import TYPE_CHECKING, Any, Final

from whorlpulse.actions.key_notes import KeyNotes, ReadLength
from whorlpulse.actions.listening import Habits, Listening
from whorlpulse.actions.live_figures import LiveFigures
from whorlpulse.sources.events import Source
from whorlpulse.sources.keyboard import Key
from whorlpulse.sources.logwriter import LogWriter
from whorlpulse.views import recording_line as words
from whorlpulse.views.recording_line import Recording, SoFar

if TYPE_CHECKING:
    from whorlpulse.logfile.header import Header
    from whorlpulse.pulses import Rows

__all__ = ["Habits", "Recorder"]

#: The ratio so far may take this share of a processor: the next one waits so many times as long as one took.
_REST_PER_WORK: Final = 60.0


class Recorder:
    """One recording. `run` it once."""

    def __init__(
        self,
        source: Source,
        open_log: Callable[[], LogWriter],
        show: Callable[[Recording], None] | None,
        habits: Habits | None = None,
        figures: LiveFigures | None = None,
    ) -> None:
        """open_log: called when the source is first connected, so that a wrong source costs no old log.

        show: is given the state about ten times a second, must not block; None: nobody watches.
        """
        self._show = show
        self._habits = habits or Habits()
        #: How many seconds of the wheel pass in one of ours; more than 1 only where they are simulated.
        self._speed = float(getattr(source, "speed", 1.0))
        self._figures = figures or LiveFigures(self._speed)
        self._listening = Listening(source, open_log, self._figures, self._habits)
        self._keeper = self._listening.keeper
        self._made_s = time.monotonic()
        self._ratio: SoFar | None = None
        self._keys: KeyNotes | None = None
        self._pressed_s = 0.0

    async def run(
        self, stop: asyncio.Event, keys: AsyncIterator[Key] | None = None, read_length: ReadLength | None = None
    ) -> Recording:
        """Record until the source ends, `stop` is set, q is pressed or the time is over; return the last state.

        Raises SourceUnavailable if the source cannot be reached at first, LogStopped when the log cannot grow.
        """
        if keys is not None and read_length is not None:
            self._keys = KeyNotes(read_length, self._figures.tick_at)
        work: list[Coroutine[Any, Any, None]] = [self._listening.listen(), self._listening.to_disk()]
        enough: list[Coroutine[Any, Any, Any]] = [stop.wait()]
        if self._habits.for_s is not None:
            enough.append(self._for(self._habits.for_s))
        if keys is not None and self._keys is not None:
            enough.append(self._note_keys(keys, self._keys))
        aside = [self._listening.ask_greeting()] + ([self._display(), self._watch_ratio()] if self._show else [])
        ending = [asyncio.ensure_future(c) for c in [*work, *enough]]
        beside = [asyncio.ensure_future(c) for c in aside]
        try:
            done, _ = await asyncio.wait(ending, return_when=asyncio.FIRST_COMPLETED)
            await asyncio.sleep(0)  # what has been read already is written before the source is let go
            for task in done:
                task.result()
        finally:
            for task in [*ending, *beside]:
                task.cancel()
            await asyncio.gather(*ending, *beside, return_exceptions=True)
            await self._listening.close()
        return self._state()

    async def _for(self, seconds: float) -> None:
        await self._listening.first_connected.wait()
        await asyncio.sleep(seconds / self._speed)

    async def _note_keys(self, keys: AsyncIterator[Key], notes: KeyNotes) -> None:
        async for key in keys:
            note = notes.press(key)
            self._pressed_s = key.at_s
            if note is not None and self._keeper.log is not None:
                self._keeper.log.note(note.key, f"{note.tick} {note.text}".rstrip())
            if notes.stop:
                return
        await asyncio.Event().wait()  # the terminal has gone: record on without keys

    async def _display(self) -> None:
        while self._show is not None:
            self._show(self._state())
            await asyncio.sleep(self._habits.show_s)

    async def _watch_ratio(self) -> None:
        rest_s = self._habits.ratio_s
        while True:
            await asyncio.sleep(rest_s)
            if not (self._figures.pulses["w"] and self._figures.pulses["f"]):
                continue
            header = self._figures.header
            rows, cut = self._figures.recent()
            try:
                self._ratio, work_s = await asyncio.to_thread(_ratio, rows, header, only_recent=cut)
            except Exception:  # whatever the arithmetic makes of the rows, the recording must go on
                self._ratio, work_s = None, 1.0
            rest_s = max(self._habits.ratio_s, _REST_PER_WORK * work_s)

    def _state(self) -> Recording:
        figures, keeper, keys = self._figures, self._keeper, self._keys
        began_s = self._made_s if keeper.began_s is None else keeper.began_s
        return Recording(
            elapsed_s=(time.monotonic() - began_s) * self._speed,
            connected=keeper.connected,
            heard=figures.last is not None,
            pulses=dict(figures.pulses),
            cadence_per_min=figures.cadence_per_min(),
            ratio=self._ratio,
            lines=figures.lines,
            lost=figures.lost,
            damaged=figures.damaged,
            interruptions=keeper.interruptions,
            simulated=(figures.header.board or "").startswith("simulated"),
            why_lost=keeper.why_lost,
            asked=keys.asked if keys is not None else None,
            says=self._answer() or self._trouble(),
        )

    def _answer(self) -> str | None:
        """Return what was said to the last key, for a few seconds."""
        recent = time.monotonic() - self._pressed_s < self._habits.answer_s
        return self._keys.says if self._keys is not None and recent else None

    def _trouble(self) -> str | None:
        silent_s = time.monotonic() - self._keeper.heard_s
        if self._keeper.connected and silent_s > self._habits.silent_s:
            return words.SILENT.format(seconds=silent_s)
        if self._figures.last is None:
            many = self._figures.lines > 20 and self._figures.damaged * 2 > self._figures.lines
            return words.UNREADABLE.format(lines=self._figures.lines) if many else words.WAITING
        return None


def _ratio(rows: Rows, header: Header, *, only_recent: bool) -> tuple[SoFar | None, float]:
    """Return the ratio so far, and the processor seconds that it took.

    The engine is loaded here, in the thread, so that recording need not wait for it.
    """
    from whorlpulse.actions.ratio_so_far import ratio_so_far

    began_s = time.thread_time()
    found = ratio_so_far(rows, header, only_recent=only_recent)
    return found, time.thread_time() - began_s
