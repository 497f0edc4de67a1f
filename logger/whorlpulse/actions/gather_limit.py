"""A time for one log of many: what takes longer is broken off, so that one log never holds up a folder.

Broken off is a measurement by an exception that Python raises in its thread, as soon as it executes Python again. For a
process that measures one log at a time there is a second way, `hard_stop`, for work that never returns to Python.
"""

from __future__ import annotations

import ctypes
import faulthandler
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Lock, Timer, get_ident
from time import sleep
from typing import Final, TypeVar

from whorlpulse.findings.gathered import GatheredRow

#: For one log, where nothing else is said: a hundred times what ten million lines take.
USUAL_S: Final = 600.0
#: After the limit, until a process that does not return to Python is ended: as long again, and at most this.
GRACE_S: Final = 5.0
#: Python raises what another thread asked for after at most a few steps.
_MOMENTS: Final = 100

_Place = TypeVar("_Place")


class _TooLong(BaseException):
    """Not an Exception: what a measurement does about its own faults must not catch this one."""


def row_within(limit_s: float, measure: Callable[[_Place], GatheredRow], place: _Place) -> GatheredRow | None:
    """Return the row of a place, None when it took longer than the limit. For processes and threads that measure."""
    over, sent, lock, thread = [False], [False], Lock(), get_ident()

    def too_long() -> None:
        with lock:
            if not over[0]:
                sent[0] = True
                _raise_in(thread, _TooLong)

    timer = Timer(limit_s, too_long)
    timer.daemon = True
    try:
        try:
            timer.start()
            return measure(place)
        finally:
            timer.cancel()
            with lock:
                over[0] = True
            # What is on its way is to come here, not later. Taking it back is no way: Python 3.11 then goes on looking
            # for it at every step, and stands still where a debugger or a coverage tool traces.
            for _ in range(_MOMENTS if sent[0] else 0):
                sleep(0.0)
    except _TooLong:
        return None


def row_within_or_end(limit_s: float, measure: Callable[[_Place], GatheredRow], place: _Place) -> GatheredRow | None:
    """The same; the process itself ends when the measurement doesn't return to Python. For a process of one's own."""
    with hard_stop(limit_s + min(limit_s, GRACE_S)):
        return row_within(limit_s, measure, place)


@contextmanager
def hard_stop(after_s: float) -> Iterator[None]:
    """End this process, from a thread that needs no Python, when what is done within takes longer."""
    with open(os.devnull, "w") as nowhere:
        faulthandler.dump_traceback_later(after_s, exit=True, file=nowhere)
        try:
            yield
        finally:
            faulthandler.cancel_dump_traceback_later()


def _raise_in(thread: int, what: type[BaseException]) -> None:
    ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(thread), ctypes.py_object(what))
