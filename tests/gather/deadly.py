"""Measurements that end the process they run in, hang, or raise: for tests; new processes import this file."""

from __future__ import annotations

import os
import time

from whorlpulse.findings.gathered import GatheredRow
from whorlpulse.sources.log_folder import LogFiles, LogPlace


def row_or_death(place: LogPlace) -> GatheredRow:
    """Die of a log called die, be slow on one called slow."""
    return _act(place.log)


def row_or_death_of_files(files: LogFiles) -> GatheredRow:
    """The same from bytes."""
    return _act(files.log)


def lost(place: LogPlace) -> GatheredRow:
    """The row of a log whose process died."""
    return GatheredRow(log=place.log, state="failed", why="died")


def late(place: LogPlace) -> GatheredRow:
    """The row of a log that took too long."""
    return GatheredRow(log=place.log, state="failed", why="late")


def _never_done() -> None:
    while True:
        try:
            sum(range(1000))
        except Exception:  # as a measurement does about its own faults
            continue


def _act(log: str) -> GatheredRow:
    if "die" in log:
        os._exit(9)
    if "endless" in log:
        _never_done()
    if "stuck" in log:
        time.sleep(60.0)  # a call that does not return to Python
    if "slow" in log:
        time.sleep(0.5)
    return GatheredRow(log=log, state="measured")
