"""How fast `whorlpulse ratio` answers: `python tests/benchmarks/ratio.py [--sound] [--profile]`.

Whole processes, medians of five taken in turn: the command on a log against a process that imports pandas and reads
the same file with its C engine, checking nothing. Peak memory is that of the child (getrusage). The log is simulated
here: a treadled wheel with one target, a flyer at 8.37 turns a wheel turn, keep-alives, a stop every five minutes, one
missed flyer pulse in a thousand (neither with `--sound`); each line has sequence number and checksum. `--profile` lists
where the command's time goes.
"""

from __future__ import annotations

import argparse
import cProfile
import json
import os
import pstats
import statistics
import subprocess
import sys
import tempfile
import time
from functools import reduce
from operator import xor
from pathlib import Path

import numpy as np

ROUNDS = 5
RATIO = 8.37
_STOP_EVERY_S, _STOP_S = 300.0, 12.0
PANDAS = """
import sys, pandas as pd
frame = pd.read_csv(sys.argv[1], header=None, names=["channel", "tick", "rest"], comment="#", engine="c")
print(len(frame))
"""


def write_log(path: Path, lines: int, *, sound: bool) -> None:
    """Write a log of so many pulse lines; sound: one run, no pulse missed."""
    rng = np.random.default_rng(11)
    seconds = lines / (RATIO * 0.999 + 1.0 + 1.0)
    turned = np.arange(0.0, seconds, 0.02)
    t = turned - 0.1 / (2 * np.pi) * np.sin(2 * np.pi * turned) + 0.3 * np.sin(turned / 7.0)  # ripple, and a mood
    t += 0.0 if sound else _STOP_S * np.floor(turned / _STOP_EVERY_S)  # a stop: nothing turns for so long
    t = np.maximum.accumulate(t - t[0])
    parts = []
    for letter, angle in (("w", np.arange(0.4, seconds, 1.0)), ("f", np.arange(0.2, seconds * RATIO) / RATIO)):
        heard = np.interp(angle, turned, t) + 30e-6 * rng.standard_normal(len(angle))
        heard = heard[rng.random(len(heard)) > 0.001] if letter == "f" and not sound else heard
        parts.append((letter, heard[heard > 0]))
    parts.append(("k", np.arange(0.0, t[-1], 1.0)))
    at = np.concatenate([x for _, x in parts])
    letters = np.concatenate([np.full(len(x), c) for c, x in parts])
    order = np.argsort(at, kind="stable")[:lines]
    ticks = (np.floor(at[order] * 1e6).astype(np.int64) & 0xFFFFFFFF).tolist()
    with path.open("wb") as file:
        file.write(b"# format: pulses 1\n# targets: w=1 f=1\n# note: simulated for a benchmark\n")
        for number, (letter, tick) in enumerate(zip(letters[order].tolist(), ticks, strict=True)):
            body = f"{letter},{tick},{number & 0xFFFF}".encode()
            file.write(b"%b*%02X\n" % (body, reduce(xor, body)))


def environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}


def timed(words: list[str]) -> tuple[float, str]:
    """Run a process; return its seconds and what it printed."""
    start = time.perf_counter()
    done = subprocess.run(words, check=True, capture_output=True, text=True, env=environment())
    return time.perf_counter() - start, done.stdout


def peak_mb(words: list[str]) -> float:
    """Return the peak memory in MB of a process, measured by a small parent of its own."""
    code = (
        "import resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL); "
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *words], check=True, capture_output=True, text=True, env=environment()
    )
    return float(done.stdout) / 1024


def whole_processes(path: Path) -> None:
    ways = {
        "whorlpulse ratio": [sys.executable, "-m", "whorlpulse", "ratio", str(path), "--json"],
        "pandas reads it": [sys.executable, "-c", PANDAS, str(path)],
    }
    said: dict[str, str] = {}
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(ROUNDS):
        for name, words in ways.items():
            seconds, said[name] = timed(words)
            taken[name].append(seconds)
    value = json.loads(said["whorlpulse ratio"])["ratio"]["value"]
    if abs(value / RATIO - 1) > 1e-4:
        raise SystemExit(f"the ratio was not read as it was written: {value}")
    median = {name: statistics.median(times) for name, times in taken.items()}
    for name, words in ways.items():
        print(f"{name:20s}{median[name] * 1e3:9.0f} ms   peak {peak_mb(words):6.0f} MB")
    over = median["whorlpulse ratio"] / median["pandas reads it"]
    print(f"ours over pandas {over:.2f} (bar 1.0); the ratio read is {value:.6f}, {RATIO} was put in")


def profile(path: Path) -> None:
    """Print where the command's time goes, its imports among it."""
    watch = cProfile.Profile()
    watch.enable()
    from whorlpulse.actions.measure_ratio import measure_ratio
    from whorlpulse.cli.inputs import Given, opened, rig_of

    recording = opened(str(path))
    rig, notes = rig_of(recording, Given(), needs_length=False)
    measure_ratio(recording, rig, notes)
    watch.disable()
    stats = pstats.Stats(watch)
    for order in ("tottime", "cumtime"):
        stats.sort_stats(order).print_stats("whorlpulse|numpy", 30)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, default=1_000_000)
    parser.add_argument("--sound", action="store_true")
    parser.add_argument("--profile", action="store_true")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "benchmark.pulses")
        write_log(path, options.lines, sound=options.sound)
        print(f"{options.lines} lines, {path.stat().st_size / 1e6:.1f} MB; medians of {ROUNDS}")
        if options.profile:
            profile(path)
            return
        whole_processes(path)


if __name__ == "__main__":
    main()
