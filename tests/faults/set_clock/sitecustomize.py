"""Loaded by the interpreter before a program: the clock of the day is off by what a file says, in seconds.

Only `time.time` is moved, as setting a computer's clock moves it; the clocks that nobody can set run on.
"""

import os
import time

_true = time.time


def _set_time() -> float:
    try:
        with open(os.environ["CLOCK_IS_OFF_BY"]) as file:
            return _true() + float(file.read() or "0")
    except (KeyError, OSError):
        return _true()


time.time = _set_time
