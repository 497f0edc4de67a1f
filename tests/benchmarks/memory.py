"""How much memory a line of a log takes: `python tests/benchmarks/memory.py [COMMAND ...]`.

Each command measures a log of a million lines and one of three (a wheel treadled without a stop, four targets on the
flyer; made up here), in a process of its own; the difference of their peaks (getrusage) is what a line takes. It must
stay below what `sources/log_size.py` allows for, which is printed beside.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from whorlpulse.sources.log_size import BYTES_A_LINE

COMMANDS = ("ratio", "slip", "cadence", "twist", "check", "report")
LINES = (1_000_000, 3_000_000)
FLYER_TARGETS, RATIO = 4, 6.2


def write_log(path: Path, lines: int) -> None:
    """A wheel turn a second, quicker and slower with the feet; times rounded to microseconds, 50 µs of noise."""
    seconds = lines / (FLYER_TARGETS * RATIO + 1.0)
    t = np.arange(0.0, seconds, 0.01)
    turns = t + 0.05 * np.sin(2.0 * np.pi * t) / (2.0 * np.pi)
    wheel = np.interp(np.arange(1, int(turns[-1])), turns, t)
    flyer = np.interp(np.arange(1, int(FLYER_TARGETS * RATIO * turns[-1])) / (FLYER_TARGETS * RATIO), turns, t)
    at = np.concatenate([wheel, flyer]) + np.random.default_rng(1).normal(0.0, 50e-6, len(wheel) + len(flyer))
    order = np.argsort(at, kind="stable")
    ticks = (at[order] * 1e6).astype(np.int64) % (1 << 32)
    letters = np.where(order < len(wheel), "w", "f")
    with path.open("w", encoding="ascii") as file:
        file.write(f"# format: pulses 1\n# targets: w=1 f={FLYER_TARGETS}\n")
        for i in range(0, len(ticks), 1 << 19):
            part = slice(i, i + (1 << 19))
            numbered = zip(letters[part].tolist(), ticks[part].tolist(), range(i, i + (1 << 19)), strict=False)
            file.write("".join(f"{letter},{tick},{n & 0xFFFF}\n" for letter, tick, n in numbered))


def peak_bytes(*words: str) -> int:
    process = subprocess.Popen([sys.executable, "-m", "whorlpulse", *words], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    assert process.returncode == 0, words
    return used.ru_maxrss * 1024


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as folder:
        logs = [Path(folder) / f"{n}.pulses" for n in LINES]
        for log, n in zip(logs, LINES, strict=True):
            # elsewhere, because a process's peak begins with that of the one that started it
            writer = get_context("spawn").Process(target=write_log, args=(log, n))
            writer.start()
            writer.join()
        for command in sys.argv[1:] or COMMANDS:
            more = {"twist": ["--total", "9000 m"], "report": ["-o"]}.get(command, [])
            peaks = [
                peak_bytes(command, str(log), *more, *([str(log.with_suffix(".html"))] if command == "report" else []))
                for log in logs
            ]
            a_line = (peaks[1] - peaks[0]) / (LINES[1] - LINES[0])
            print(
                f"{command}: {peaks[1] / 1e6:.0f} MB for {LINES[1]} lines, {a_line:.0f} of {BYTES_A_LINE} bytes a line"
            )


if __name__ == "__main__":
    main()
