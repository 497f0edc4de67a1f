"""A simulated board: a scenario's log sent line by line when its time comes, as fast as asked for.

The lines say themselves that they are simulated (`board` and `note`). The host's clock is simulated with
them: a log made at twenty times the speed has `sync` lines that fit its ticks.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator
from dataclasses import replace
from typing import Final

from whorlpulse.simulate import scenario, scenario_names, simulate
from whorlpulse.sources.events import Arrived, Connected, Event, SourceUnavailable
from whorlpulse.wire import Decoder, Meta, Pulse

#: Lines whose time comes within this much are handed over together.
_TOGETHER_S: Final = 0.002
LARGEST_SPEED: Final = 10_000.0


class SimulatedSource:
    """A `Source` that plays a scenario once. speed: how many simulated seconds pass in one."""

    def __init__(self, scenario_name: str, speed: float = 1.0, seed: int = 1) -> None:
        """Raises SourceUnavailable for a scenario that is not known, or a speed that cannot be."""
        if not 0 < speed <= LARGEST_SPEED:
            raise SourceUnavailable(f"the speed {speed:g} cannot be: give a number above 0, up to {LARGEST_SPEED:g}")
        if scenario_name not in scenario_names():
            raise SourceUnavailable(
                f"no scenario is called {scenario_name!r}: choose from {', '.join(scenario_names())}"
            )
        self.name = f"sim:{scenario_name}" + (f"@{speed:g}" if speed != 1 else "")
        self.speed = speed
        planned = scenario(scenario_name)
        # the recording host writes the sync lines; the simulated one must not
        self._scenario = replace(planned, board=replace(planned.board, sync_every_s=None))
        self._seed = seed

    async def events(self) -> AsyncIterator[Event]:
        """Yield the board's lines, each when its tick says so."""
        log = await asyncio.to_thread(lambda: simulate(self._scenario, self._seed).log)
        began_s, began_unix_s = time.monotonic(), time.time()
        yield Connected(self.name, began_s, began_unix_s)
        for due_s, chunk in _due(log):
            late_s = began_s + due_s / self.speed - time.monotonic()
            if late_s > 0:
                await asyncio.sleep(late_s)
            yield Arrived(chunk, time.monotonic(), began_unix_s + due_s)

    async def send(self, data: bytes) -> None:
        """Take bytes and do nothing: a simulated board knows no commands."""


def _due(log: bytes) -> list[tuple[float, bytes]]:
    """Return (seconds after the first pulse line, lines) in order; lines of one moment together."""
    decoder = Decoder()
    tick_hz, mask = 1e6, (1 << 32) - 1
    elapsed, last_tick = 0, None
    plan: list[tuple[float, list[bytes]]] = []
    for line in log.splitlines(keepends=True):
        for message in decoder.feed(line):
            if isinstance(message, Meta) and message.key == "tick_hz":
                tick_hz = float(message.value)
            elif isinstance(message, Meta) and message.key == "tick_bits":
                mask = (1 << (int(message.value) or 62)) - 1
            elif isinstance(message, Pulse):
                step = (message.tick - last_tick) & mask if last_tick is not None else 0
                # far ahead is backwards: a board that began anew goes on from here
                elapsed += step if step <= mask // 2 else 0
                last_tick = message.tick
        due_s = elapsed / tick_hz
        if plan and due_s - plan[-1][0] < _TOGETHER_S:
            plan[-1][1].append(line)
        else:
            plan.append((due_s, [line]))
    return [(due_s, b"".join(lines)) for due_s, lines in plan]
