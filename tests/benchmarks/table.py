"""The table of docs/benchmarks.md in one command: `python tests/benchmarks/table.py [--lines 10000000] [--write FILE]`.

Everything that has a bar, measured on this machine in one go: five to ten minutes. Reading is timed on a log of wheel,
flyer and keep-alive lines with numbers and checksums; the ratio on a simulated wheel that is treadled without a stop.
Without `--write` the table is only printed; `--only startup,smoother` measures some of it.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import chain, decode, gather, linear, live, ratio, smoother, startup
from tests.benchmarks.measuring import Bar, environment, medians, process_medians

ROUNDS = 5
HEAD = """# Benchmarks

Written by `python tests/benchmarks/table.py --write docs/benchmarks.md`. Processor time (user and system, all threads),
medians, each ratio from one run in turn; what was tried is in `docs/decisions/speed.md`. All logs are simulated.

"""


@dataclass(frozen=True)
class Logs:
    """The logs that are read: as many lines of all kinds, and of a treadled wheel's ratio."""

    all_kinds: Path
    treadled: Path
    lines: int


def reading(logs: Logs) -> list[Bar]:
    """Reading with all checks, against counting line ends and a reader that checks nothing."""
    log = logs.all_kinds

    def polars_unchecked() -> None:
        import polars as pl

        pl.read_csv(log, has_header=False, comment_prefix="#", new_columns=["channel", "tick", "rest"])

    ways = {
        "count": lambda: decode.count_line_ends(log),
        "sum": lambda: decode.sum_line_ends(log),
        "ours": lambda: decode.ours(log),
        "polars": polars_unchecked,
    }
    took = medians(ways, ROUNDS)
    return [
        Bar("reading, over counting line ends (numpy.count_nonzero)", took["ours"] / took["count"], "x", 8.0),
        Bar("reading, over counting line ends (numpy.sum)", took["ours"] / took["sum"], "x"),
        Bar("reading, over polars without any check", took["ours"] / took["polars"], "x", 1.0),
        Bar("reading, peak memory of the process", decode.peak_mb_of(log), "MB", 250.0),
    ]


def whole_ratio(logs: Logs) -> list[Bar]:
    """The whole command, against pandas' C engine that merely reads the file."""
    log = logs.treadled
    took = process_medians(
        {
            "ours": [sys.executable, "-m", "whorlpulse", "ratio", str(log), "--json"],
            "pandas": [sys.executable, "-c", ratio.PANDAS, str(log)],
        },
        3,
    )
    return [
        Bar(
            "`whorlpulse ratio`, whole, over pandas' C engine reading the file", took["ours"] / took["pandas"], "x", 1.0
        )
    ]


#: Each a part of the table: what measures it, and whether it reads the large logs.
PARTS: dict[str, tuple[Callable[[Logs], list[Bar]], bool]] = {
    "startup": (lambda logs: startup.bars(9), False),
    "smoother": (lambda logs: smoother.bars(100_000), False),
    "live": (lambda logs: live.bars(), False),
    "gather": (lambda logs: gather.bars(200), False),
    "chain": (lambda logs: chain.bars(min(logs.lines, 1_000_000)), False),
    "reading": (reading, True),
    "ratio": (whole_ratio, True),
    "linear": (lambda logs: linear.bars(logs.treadled, logs.lines), True),
}


def measured(lines: int, only: Sequence[str]) -> list[Bar]:
    """Return all lines of the table."""
    found = []
    with tempfile.TemporaryDirectory() as folder:
        logs = Logs(Path(folder, "all-kinds.pulses"), Path(folder, "treadled.pulses"), lines)
        if any(PARTS[part][1] for part in only):
            decode.write_log(logs.all_kinds, lines, 0)
            ratio.write_log(logs.treadled, lines, sound=True)
        for part in only:
            began_s = time.monotonic()
            found += apart(part, logs)
            print(f"{part}: {time.monotonic() - began_s:.0f} s", file=sys.stderr)
    return found


def apart(part: str, logs: Logs) -> list[Bar]:
    """Return a part's lines, measured by a process of its own."""
    words = [sys.executable, __file__, "--part", part, "--logs", *map(str, (logs.all_kinds, logs.treadled))]
    ran = subprocess.run(
        [*words, "--lines", str(logs.lines)],
        check=True,
        stdout=subprocess.PIPE,
        env=environment(),
    )
    return [Bar(**bar) for bar in json.loads(ran.stdout)]


def table(bars: list[Bar], lines: int) -> str:
    """Return the table as Markdown."""
    machine = f"Python {platform.python_version()}, numpy {np.__version__}, {platform.machine()}"
    about = f"{machine}; {lines} lines; load of the machine at the end {os.getloadavg()[0]:.1f}.\n\n"
    rows = [["what", "measured", "bar", ""], ["---"] * 4, *(bar.cells() for bar in bars)]
    return HEAD + about + "".join(f"| {' | '.join(row)} |\n" for row in rows)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, default=10_000_000)
    parser.add_argument("--write", type=Path, metavar="FILE")
    parser.add_argument("--only", default=",".join(PARTS), help="of " + ", ".join(PARTS))
    parser.add_argument("--part", help=argparse.SUPPRESS)
    parser.add_argument("--logs", nargs=2, type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.part:
        bars = PARTS[options.part][0](Logs(*options.logs, options.lines))
        print(json.dumps([asdict(bar) for bar in bars]))
        return
    text = table(measured(options.lines, options.only.split(",")), options.lines)
    print(text)
    if options.write:
        options.write.write_text(text)


if __name__ == "__main__":
    main()
