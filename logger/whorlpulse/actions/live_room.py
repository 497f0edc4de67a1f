"""A room of live wheels: what is new goes out at most every 40 ms, to as many viewers as there are.

There is one newest state. A viewer who comes back for more gets what has changed since he last came, so a slow one
skips states and holds nothing up.
"""

from __future__ import annotations

import asyncio
import gc
from collections.abc import AsyncIterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any, Final

from whorlpulse.actions.listening import Habits
from whorlpulse.actions.live_acts import note_in_log, set_pace
from whorlpulse.actions.live_now import wheel_now
from whorlpulse.actions.live_setup import WheelSetup
from whorlpulse.actions.live_totals import TotalsProcess
from whorlpulse.actions.live_totals_round import TotalsRounds
from whorlpulse.actions.live_wheel import SHARE, LiveWheel
from whorlpulse.findings.live import WheelNow
from whorlpulse.findings.report import note
from whorlpulse.views.live_document import WheelDocument, room_text
from whorlpulse.views.live_words import live_says

#: Between two states that go out.
PUSH_S: Final = 0.04
#: What changes with time alone (a silence) is looked for so often.
_LOOK_S: Final = 0.5
#: The windows of many wheels take no more of a processor than those of so many.
_FULL_SHARES: Final = 4


class LiveRoom:
    """The wheels of a live view."""

    def __init__(
        self, setups: Sequence[WheelSetup], habits: Habits | None = None, totals: TotalsProcess | None = None
    ) -> None:
        """totals: where whole logs are measured."""
        self._habits = habits or Habits()
        self._dirty = asyncio.Event()
        self._measuring = ThreadPoolExecutor(1, thread_name_prefix="windows")
        share = SHARE * min(1.0, _FULL_SHARES / max(len(setups), 1))
        self.wheels = {s.id: LiveWheel(s, self._dirty.set, self._measuring, self._habits, share) for s in setups}
        self._documents = {id: WheelDocument(id) for id in self.wheels}
        self._paused: dict[str, WheelNow] = {}
        self._shown: dict[str, WheelNow] = {}
        self._rounds = TotalsRounds(list(self.wheels.values()), totals or TotalsProcess())
        self._version = self._viewers = 0
        self._texts: dict[int, str] = {}
        self._pushed = asyncio.Event()
        self.ended = self._ended_said = self._closed = False
        self._refresh()

    async def run(self, stop: asyncio.Event) -> None:
        """Run the wheels until all have ended or `stop` is set, then measure their whole logs.

        A single wheel's fault is raised (SourceError); with several, it is said in the view.
        """
        alone = len(self.wheels) == 1
        self._measuring.submit(_load_engine)
        aside = [asyncio.ensure_future(w) for w in (self._push_on(), self._look(), self._rounds.run())]
        wheels = [asyncio.ensure_future(w.run(alone=alone)) for w in self.wheels.values()]
        ends: list[asyncio.Future[Any]] = [asyncio.ensure_future(stop.wait()), asyncio.gather(*wheels)]
        if self._habits.for_s is not None:
            ends.append(asyncio.ensure_future(self._for(self._habits.for_s)))
        try:
            done, _ = await asyncio.wait(ends, return_when=asyncio.FIRST_COMPLETED)
            for end in done:
                end.result()
        finally:
            await _cancelled([*ends, *wheels, aside[2]])
            self._refresh()
            await self._rounds.last()
            await _cancelled(aside)
            self._measuring.shutdown()
            self.ended = True
            self._refresh()

    def close(self) -> None:
        """End the viewers' streams."""
        self._closed = True
        self._refresh()
        self._wake()

    def now(self, wheel: str) -> WheelNow:
        """Return the newest state of a wheel, paused or not."""
        self._look_again()
        return self._shown[wheel]

    def whole(self) -> str:
        """Return the whole room as it is now, as JSON text."""
        self._look_again()
        return self._since(0)

    async def changes(self) -> AsyncIterator[str]:
        """Yield the whole room, then what has changed, newest only, until the room is closed."""
        seen = 0
        self._viewers += 1
        try:
            self._look_again()
            while True:
                pushed, version = self._pushed, self._version
                if version > seen:
                    text, seen = self._since(seen), version
                    yield text
                elif self._closed:
                    return
                else:
                    await pushed.wait()
        finally:
            self._viewers -= 1

    async def act(self, wheel: str, action: str, text: str) -> str | None:
        """Do what is asked of a wheel; return None, or one sentence why not."""
        found = self.wheels.get(wheel)
        if found is None:
            return live_says("no-such-wheel")
        if action == "pause":
            self._paused.setdefault(wheel, self.now(wheel))
        elif action == "resume":
            self._paused.pop(wheel, None)
        elif action == "pace":
            return set_pace(found, text.strip())
        elif action in ("mark", "note", "length"):
            why_not = note_in_log(found, action, text)
            if why_not is not None:
                return why_not
        else:
            return live_says("no-such-action")
        self._dirty.set()
        return None

    async def _for(self, seconds: float) -> None:
        await asyncio.wait(
            [asyncio.ensure_future(w.listening.first_connected.wait()) for w in self.wheels.values()],
            return_when=asyncio.FIRST_COMPLETED,
        )
        await asyncio.sleep(seconds / min(w.figures.speed for w in self.wheels.values()))

    async def _push_on(self) -> None:
        while True:
            await self._dirty.wait()
            if self._viewers:
                self._refresh()
            await asyncio.sleep(PUSH_S if self._viewers else _LOOK_S)

    async def _look(self) -> None:
        while True:
            await asyncio.sleep(_LOOK_S)
            self._dirty.set()

    def _look_again(self) -> None:
        """Take the newest state where nobody has looked since it came."""
        if self._dirty.is_set():
            self._refresh()

    def _refresh(self) -> None:
        """Take every wheel's newest state; wake the viewers if anything has changed."""
        self._dirty.clear()
        version = self._version + 1
        changed = False
        for id, wheel in self.wheels.items():
            before = self._shown.get(id)
            now = wheel_now(wheel, before.pace if before is not None else None)
            held = self._paused.get(id)
            if held is not None and not wheel.ended:
                now = replace(held, state="paused", says=note("paused"), marks=now.marks)
            self._shown[id] = now
            changed = self._documents[id].take(now, version) or changed
        if changed or self.ended != self._ended_said:
            self._version, self._ended_said = version, self.ended
            self._texts.clear()
            self._wake()

    def _wake(self) -> None:
        woken, self._pushed = self._pushed, asyncio.Event()
        woken.set()

    def _since(self, seen: int) -> str:
        """The room's changes since version `seen`, made once for all who ask for them."""
        text = self._texts.get(seen)
        if text is None:
            text = self._texts[seen] = room_text(self._documents.values(), seen, ended=self.ended)
        return text


def _load_engine() -> None:
    """Load what windows are measured with before the first pulses come, and let the collector pass over all of it.

    What is loaded now lives to the end; to be gone through for garbage again and again, it cost a third of the
    processor time of a pulse.
    """
    import whorlpulse.actions.live_window  # noqa: F401

    gc.freeze()


async def _cancelled(tasks: Sequence[asyncio.Future[Any]]) -> None:
    """Cancel these and wait until they are over."""
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
