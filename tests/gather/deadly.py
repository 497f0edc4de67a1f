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


def _act(log: str) -> GatheredRow:
    if "die" in log:
        os._exit(9)
    if "slow" in log:
        time.sleep(0.5)
    return GatheredRow(log=log, state="measured")
