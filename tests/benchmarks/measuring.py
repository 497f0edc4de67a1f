"""How the benchmarks measure: processor time, in turn, medians; each figure is a ratio of one run where it can be.

Processor time (user and system) instead of the clock's, because other programs may share the machine; what shares a
processor's caches still slows both sides of a ratio.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Bar:
    """One line of the table: what was measured, how much, its unit, and the most that it may be (None: no bar)."""

    what: str
    measured: float
    unit: str
    most: float | None = None

    def cells(self) -> list[str]:
        """Return the line's cells: what, measured, bar, verdict."""
        met = "" if self.most is None else "met" if self.measured <= self.most else "**missed**"
        most = "" if self.most is None else f"≤ {self.most:g} {self.unit}".rstrip()
        return [self.what, f"{self.measured:.3g} {self.unit}".rstrip(), most, met]


def medians(passes: Mapping[str, Callable[[], object]], rounds: int) -> dict[str, float]:
    """Return the median processor seconds of each pass; the passes are taken in turn."""
    taken: dict[str, list[float]] = {name: [] for name in passes}
    for _ in range(rounds):
        for name, run in passes.items():
            start = time.process_time()
            run()
            taken[name].append(time.process_time() - start)
    return {name: statistics.median(times) for name, times in taken.items()}


def process_medians(commands: Mapping[str, Sequence[str]], rounds: int) -> dict[str, float]:
    """Return the median processor seconds of whole processes, taken in turn; a first round warms the files."""
    return medians_of_processes(commands, rounds + 1, skip=1)


def medians_of_processes(commands: Mapping[str, Sequence[str]], rounds: int, skip: int = 0) -> dict[str, float]:
    """The same without the first `skip` rounds."""
    taken: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(rounds):
        for name, words in commands.items():
            taken[name].append(cpu_s_of(words))
    return {name: statistics.median(times[skip:]) for name, times in taken.items()}


def cpu_s_of(words: Sequence[str]) -> float:
    """Return the processor seconds, user and system, that a process took."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL, env=environment())
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def environment() -> dict[str, str]:
    """Return the environment in which a process finds the package that this one uses, one thread to a library."""
    paths = os.pathsep.join(p for p in sys.path if p)
    return {**os.environ, "PYTHONPATH": paths, "POLARS_MAX_THREADS": "1", "OMP_NUM_THREADS": "1"}


def cut(log: Path, lines: int, to: Path) -> Path:
    """Write the first so many lines of a log to another file."""
    with log.open("rb") as whole, to.open("wb") as part:
        part.writelines(line for _, line in zip(range(lines), whole, strict=False))
    return to
