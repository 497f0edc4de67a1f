"""How fast a log is read, as ratios of one run: `python tests/benchmarks/decode.py [--lines 1000000]`.

The yardstick is the counting pass: the file read in blocks of 256 kB, and the line ends in them counted with
numpy, by `count_nonzero` (which some machines do several times faster than others) and by `sum`. Medians of
five, taken in turn so that a busy machine slows all alike. Pandas is timed twice: its C parser alone, which
checks nothing, and with the same checks made on its columns. The log is simulated: wheel, flyer and keep-alive
lines with sequence number and checksum; the damaged one has 50 bad lines in a million.
"""

from __future__ import annotations

import argparse
import os
import random
import resource
import subprocess
import sys
import tempfile
from functools import reduce
from operator import xor
from pathlib import Path

import numpy as np

if __package__:
    from tests.benchmarks.measuring import medians
else:
    from measuring import medians

from whorlpulse.logfile import Log, read_log
from whorlpulse.sources.files import BLOCK_BYTES, log_blocks

ROUNDS = 5


def write_log(path: Path, lines: int, bad_per_million: int) -> None:
    dice = random.Random(7)
    bad = set(dice.sample(range(lines), lines * bad_per_million // 1_000_000))
    tick, text = 0, bytearray()
    with path.open("wb") as file:
        for number in range(lines):
            tick = (tick + dice.randrange(200, 9000)) & 0xFFFFFFFF
            body = b"%c,%d,%d" % (dice.choice(b"fffffwk"), tick, number & 0xFFFF)
            line = b"%b*%02X\n" % (body, reduce(xor, body))
            if number in bad:
                line = line[:5] + (b"?" if number % 2 else b"") + line[6:]
            text += line
            if len(text) > 1 << 20:
                file.write(text)
                text.clear()
        file.write(text)


def count_line_ends(path: Path) -> int:
    with path.open("rb") as file:
        blocks = iter(lambda: file.read(BLOCK_BYTES), b"")
        return sum(int(np.count_nonzero(np.frombuffer(block, np.uint8) == 10)) for block in blocks)


def sum_line_ends(path: Path) -> int:
    with path.open("rb") as file:
        blocks = iter(lambda: file.read(BLOCK_BYTES), b"")
        return sum(int((np.frombuffer(block, np.uint8) == 10).sum()) for block in blocks)


def ours(path: Path) -> Log:
    return read_log(log_blocks(path))


def pandas_unchecked(path: Path) -> int:
    import pandas as pd

    frame = pd.read_csv(path, header=None, names=["channel", "tick", "rest"], comment="#", engine="c")
    return len(frame)


def pandas_checked(path: Path) -> int:
    """Return how many lines are good and in turn: every checksum and sequence number, on pandas' columns."""
    import pandas as pd

    lines = pd.read_csv(path, header=None, names=["line"], sep="\x01", engine="c")["line"]
    parts = lines.str.extract(r"^([wfbykx]),(\d+),(\d+)\*([0-9A-F]{2})$")
    good = parts.notna().all(axis=1)
    body = lines.str.slice(stop=-3).to_numpy().astype("S")
    table = body.view(np.uint8).reshape(len(body), -1)
    right = np.bitwise_xor.reduce(table, axis=1) == parts[3].map(lambda h: int(h, 16), na_action="ignore")
    seq = parts[2][good & right].astype("int64").to_numpy()
    parts[1][good & right].astype("int64").to_numpy()
    return len(seq) - int(np.count_nonzero(np.diff(seq) % 65536 != 1))


def peak_mb() -> float:
    """Return this process's peak memory in MB."""
    status = Path("/proc/self/status")
    if status.exists():  # getrusage would count the parent's memory from before the start of the program
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def peak_mb_of(path: Path) -> float:
    """Return the peak memory of a process that reads the log, in MB."""
    done = subprocess.run(
        [sys.executable, __file__, "--peak-of", str(path)],
        check=True,
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    return float(done.stdout)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, default=1_000_000)
    parser.add_argument("--peak-of", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.peak_of:
        ours(options.peak_of)
        print(peak_mb())
        return
    with tempfile.TemporaryDirectory() as folder:
        clean, damaged = Path(folder, "clean.pulses"), Path(folder, "damaged.pulses")
        write_log(clean, options.lines, 0)
        write_log(damaged, options.lines, 50)
        report(clean, damaged, options.lines)


def report(clean: Path, damaged: Path, lines: int) -> None:
    tally = ours(clean).tally
    if (tally.total, tally.lost, tally.malformed, tally.bad_checksum) != (lines, 0, {}, 0):
        raise SystemExit(f"the clean log was not read as it was written: {tally}")
    hurt = ours(damaged).tally
    found = hurt.malformed_lines + hurt.bad_checksum
    if found + hurt.lost != lines * 50 // 1_000_000:
        raise SystemExit(f"the damaged log was not read as it was written: {hurt}")
    times = medians(
        {
            "count line ends, count_nonzero": lambda: count_line_ends(clean),
            "count line ends, sum": lambda: sum_line_ends(clean),
            "ours, all checks": lambda: ours(clean),
            "ours, 50 bad lines a million": lambda: ours(damaged),
            "pandas C parser, no checks": lambda: pandas_unchecked(clean),
        },
        ROUNDS,
    )
    times |= medians({"pandas, the same checks": lambda: pandas_checked(clean)}, 1)
    reading = times["ours, all checks"]
    by_nonzero, by_sum = (times[f"count line ends, {way}"] for way in ("count_nonzero", "sum"))
    print(f"{lines} lines, {clean.stat().st_size / 1e6:.1f} MB; median of {ROUNDS} (pandas with checks: one)")
    for name, seconds in times.items():
        print(f"{name:32s}{seconds * 1e3:10.1f} ms {seconds / by_nonzero:9.2f} x {seconds / by_sum:9.2f} x")
    print("(ratios: to the counting pass by count_nonzero, and by sum)")
    print(f"damaged over clean {times['ours, 50 bad lines a million'] / reading:.2f}")
    print(f"pandas without checks over ours {times['pandas C parser, no checks'] / reading:.1f}")
    print(f"pandas with checks over ours {times['pandas, the same checks'] / reading:.1f}")
    print(f"peak memory of the whole process {peak_mb_of(clean):.0f} MB")


if __name__ == "__main__":
    main()
