"""The whole log so far, by the very commands that read a finished one; in a process of its own.

The reports of a log of a day would fill this process's memory and hold up its pulses. So a short-lived process reads
the file, measures, hands back a few figures and ends.
"""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from whorlpulse.findings.live import Totals

if TYPE_CHECKING:
    from whorlpulse.actions.recording import Recording
    from whorlpulse.estimators.plan import YarnPlan
    from whorlpulse.estimators.slip_reference import Reference
    from whorlpulse.findings.report import Note, TwistReport
    from whorlpulse.rig import Rig


class RigOf(Protocol):
    """Reads a log's rig, as the commands do; it is sent to another process, so it must be picklable."""

    def __call__(self, recording: Recording, *, needs_length: bool) -> tuple[Rig, list[Note]]:
        """Return the rig and what is said of it; raises an exception with one sentence where it cannot be read."""
        ...


@dataclass(frozen=True)
class Order:
    """A log to measure: up to so many bytes of the file, or all of it. plan and references: as for the commands."""

    path: Path
    capture: str
    rig_of: RigOf
    upto: int | None = None
    plan: YarnPlan | None = None
    references: tuple[Reference, ...] = ()


def measure_totals(order: Order) -> Totals:
    """Return the figures of `ratio`, `cadence`, `twist` and `slip` over the log."""
    from whorlpulse.actions.live_bobbin import unfilled
    from whorlpulse.actions.measure_cadence import measure_cadence
    from whorlpulse.actions.measure_ratio import measure_ratio
    from whorlpulse.actions.measure_slip import measure_slip
    from whorlpulse.actions.measure_twist import measure_twist
    from whorlpulse.actions.recording import read_recording
    from whorlpulse.findings.live import totals_of
    from whorlpulse.findings.report import TwistReport, note

    recording = read_recording(_blocks(order.path, order.upto), order.capture)
    rig, notes = order.rig_of(recording, needs_length=False)
    try:
        long_rig, long_notes = order.rig_of(recording, needs_length=True)
        going_on = order.upto is not None
        twist = measure_twist(recording, unfilled(long_rig) if going_on else long_rig, order.plan, long_notes)
        if going_on and long_rig.bobbin.full is not None and _lacks_growth(twist):
            twist = TwistReport(order.capture, cannot_say=note("bobbin-not-full"))
    except ValueError as unreadable_length:
        twist = TwistReport(order.capture, cannot_say=note("bad-length", why=str(unreadable_length)))
    return totals_of(
        measure_ratio(recording, rig, notes),
        measure_cadence(recording, rig, None, notes),
        twist,
        measure_slip(recording, rig, order.references, notes),
        recording.conditioned(rig).duration_s,
    )


def _lacks_growth(twist: TwistReport) -> bool:
    return twist.cannot_say is not None and twist.cannot_say.key == "no-bobbin-growth"


def _blocks(path: Path, upto: int | None) -> Callable[[], Iterator[bytes]]:
    """The file's bytes, up to the end of the last whole line within `upto`."""

    def blocks() -> Iterator[bytes]:
        left = _whole_lines(path, upto)
        with path.open("rb") as file:
            while left > 0 and (block := file.read(min(left, 1 << 18))):
                left -= len(block)
                yield block

    return blocks


def _whole_lines(path: Path, upto: int | None) -> int:
    size = path.stat().st_size
    if upto is None or upto > size:
        return size
    with path.open("rb") as file:
        start = max(upto - 4096, 0)
        file.seek(start)
        return start + file.read(upto - start).rfind(b"\n") + 1


class TotalsProcess:
    """Measures logs in another process: one at a time, and gone when it has nothing to do."""

    async def measure(self, orders: Sequence[Order], niceness: int) -> list[Totals | None]:
        """Return the totals of each log in turn; None where measuring failed. niceness: how far it steps back."""
        loop = asyncio.get_running_loop()
        pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_step_back, initargs=(niceness,))
        found: list[Totals | None] = []
        try:
            for order in orders:
                try:
                    found.append(await loop.run_in_executor(pool, measure_totals, order))
                except BrokenProcessPool:  # it was ended from outside: no figures this time
                    return [*found, *[None] * (len(orders) - len(found))]
                except Exception:  # whatever the arithmetic makes of a log, the live view goes on
                    found.append(None)
        finally:
            pool.shutdown(wait=False, cancel_futures=True)
        return found


def _step_back(niceness: int) -> None:
    """Let pulses go first, and leave Ctrl-C to the process that was started."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with suppress(AttributeError, OSError):
        os.nice(niceness)
