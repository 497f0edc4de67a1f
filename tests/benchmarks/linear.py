"""How cost grows with size: `python tests/benchmarks/linear.py [--most 10000000]`.

The first 1e5, 1e6 … lines of one log: processor nanoseconds a line for reading it and for the ratio from what was read,
in this process, so that the start of a program is not among them. Medians.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

if __package__:
    from tests.benchmarks.measuring import Bar, cut, medians
    from tests.benchmarks.ratio import write_log
else:
    from measuring import Bar, cut, medians
    from ratio import write_log

from whorlpulse.actions.measure_ratio import measure_ratio
from whorlpulse.cli.inputs import Given, opened, rig_of

ROUNDS = 3


def costs(log: Path, sizes: list[int]) -> dict[int, tuple[float, float]]:
    """Return for each size the nanoseconds a line of reading and of measuring."""
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        for size in sizes:
            part = str(cut(log, size, Path(folder, "part.pulses")))

            def measure(part: str = part) -> None:
                recording = opened(part)
                rig, notes = rig_of(recording, Given(), needs_length=False)
                measure_ratio(recording, rig, notes)

            took = medians({"read": lambda part=part: opened(part), "both": measure}, ROUNDS)
            found[size] = (1e9 * took["read"] / size, 1e9 * (took["both"] - took["read"]) / size)
    return found


def sizes_up_to(most: int) -> list[int]:
    """Return 1e5, 1e6 … up to most."""
    return [size for size in (10**5, 10**6, 10**7) if size <= most]


def bars(log: Path, most: int) -> list[Bar]:
    """Return the lines of the table: how much dearer a line is in the largest log than in the smallest."""
    sizes = sizes_up_to(most)
    found = costs(log, sizes)
    span = f"{sizes[0]:.0e} → {sizes[-1]:.0e} lines".replace("e+0", "e")
    lines = []
    for i, name in enumerate(("reading", "`ratio` after it")):
        each = ", ".join(f"{found[size][i]:.0f}" for size in sizes)
        over = found[sizes[-1]][i] / found[sizes[0]][i]
        lines.append(Bar(f"{name}: a line's cost, {span} ({each} ns)", over, "x", 1.1))
    return lines


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--most", type=int, default=10**7)
    most = parser.parse_args().most
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder, "log.pulses")
        write_log(log, most, sound=True)
        for size, (read, measured) in costs(log, sizes_up_to(most)).items():
            print(f"{size:10d} lines: reading {read:7.1f} ns a line, ratio after it {measured:7.1f}")


if __name__ == "__main__":
    main()
