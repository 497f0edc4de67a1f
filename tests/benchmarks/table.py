"""The table of docs/benchmarks.md in one command: `python tests/benchmarks/table.py [--lines 10000000] [--write FILE]`.

Everything that has a bar, measured on this machine in one go: some minutes. Reading is timed on a log of wheel, flyer
and keep-alive lines with numbers and checksums; the ratio on a simulated wheel that is treadled without a stop. Without
`--write` the table is only printed.
"""

from __future__ import annotations

import argparse
import platform
import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import chain, decode, linear, ratio, smoother, startup
from tests.benchmarks.measuring import Bar, medians, process_medians

ROUNDS = 5
HEAD = """# Benchmarks

Written by `python tests/benchmarks/table.py --write docs/benchmarks.md`. Processor time (user and system, all threads),
medians, each ratio from one run in turn; what was tried is in `docs/decisions/speed.md`. All logs are simulated.

"""


def reading(log: Path) -> list[Bar]:
    """Reading with all checks, against counting line ends and a reader that checks nothing."""

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


def whole_ratio(log: Path) -> list[Bar]:
    """The whole command, against pandas' C engine that merely reads the file."""
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


def measured(lines: int) -> list[Bar]:
    """Return all lines of the table."""
    found = startup.bars(9)
    found += smoother.bars(100_000)
    found += chain.bars(min(lines, 1_000_000))
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder, "log.pulses")
        decode.write_log(log, lines, 0)
        found += reading(log)
        ratio.write_log(log, lines, sound=True)
        found += whole_ratio(log)
        found += linear.bars(log, lines)
    return found


def table(bars: list[Bar], lines: int) -> str:
    """Return the table as Markdown."""
    about = f"Python {platform.python_version()}, numpy {np.__version__}, {platform.machine()}; {lines} lines.\n\n"
    rows = [["what", "measured", "bar", ""], ["---"] * 4, *(bar.cells() for bar in bars)]
    return HEAD + about + "".join(f"| {' | '.join(row)} |\n" for row in rows)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, default=10_000_000)
    parser.add_argument("--write", type=Path, metavar="FILE")
    options = parser.parse_args()
    text = table(measured(options.lines), options.lines)
    print(text)
    if options.write:
        options.write.write_text(text)


if __name__ == "__main__":
    main()
