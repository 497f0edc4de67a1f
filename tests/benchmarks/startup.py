"""How soon a command is there: `python tests/benchmarks/startup.py [--rounds 9]`.

Whole processes, medians in turn: `whorlpulse --help` against the help of a typer program with one empty command, and
`whorlpulse ratio` on a log of 10 kB against importing numpy and scipy.linalg.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

if __package__:
    from tests.benchmarks.measuring import Bar, cut, process_medians
    from tests.benchmarks.ratio import write_log
else:
    from measuring import Bar, cut, process_medians
    from ratio import write_log

EMPTY = "import typer\napp = typer.Typer()\n@app.command()\ndef empty() -> None:\n    pass\napp()\n"
SMALL_LINES = 560  # 10 kB


def seconds(rounds: int) -> dict[str, float]:
    """Return the processor seconds of each process."""
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder, "log.pulses")
        write_log(log, 2 * SMALL_LINES, sound=True)
        small = cut(log, SMALL_LINES, Path(folder, "small.pulses"))
        Path(folder, "empty.py").write_text(EMPTY)
        ours = [sys.executable, "-m", "whorlpulse"]
        return process_medians(
            {
                "an empty typer program --help": [sys.executable, str(Path(folder, "empty.py")), "--help"],
                "whorlpulse --help": [*ours, "--help"],
                "import numpy, scipy.linalg": [sys.executable, "-c", "import numpy, scipy.linalg"],
                "whorlpulse ratio, 10 kB": [*ours, "ratio", str(small)],
            },
            rounds,
        )


def bars(rounds: int) -> list[Bar]:
    """Return the lines of the table."""
    took = seconds(rounds)
    help_over = took["whorlpulse --help"] / took["an empty typer program --help"]
    ratio_over = took["whorlpulse ratio, 10 kB"] / took["import numpy, scipy.linalg"]
    return [
        Bar("`whorlpulse --help` over an empty typer program's", help_over, "x", 1.6),
        Bar("`whorlpulse ratio` of 10 kB over importing numpy and scipy.linalg", ratio_over, "x", 1.6),
    ]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=9)
    took = seconds(parser.parse_args().rounds)
    for name, s in took.items():
        print(f"{name:32s}{s * 1e3:8.0f} ms of processor time")
    print(f"help over empty {took['whorlpulse --help'] / took['an empty typer program --help']:.2f} (bar 1.6)")
    print(f"ratio over imports {took['whorlpulse ratio, 10 kB'] / took['import numpy, scipy.linalg']:.2f} (bar 1.6)")


if __name__ == "__main__":
    main()
