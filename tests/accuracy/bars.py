"""All accuracy bars in one table: `python tests/accuracy/bars.py [--seeds 60] [--logs 500]`.

Every figure is of simulated logs against their truth. bias and spread: mean and standard deviation of the error;
worst: the largest; held: how many 95 % intervals had the truth in them. The second table says how often the intervals
of the mixed set (`mixture.py`) cover, for each kind of log.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.accuracy.mixture import ratio_covered, shares, twist_covered
from tests.accuracy.rows import ROWS, efficiency


def print_bars(seeds: int) -> None:
    print(f"{seeds} logs a row; errors in percent of the truth")
    print(f"{'':28s}{'bar':>8s}{'bias':>10s}{'spread':>10s}{'worst':>10s}{'held':>10s}")
    for name, judge in ROWS.items():
        row = judge(range(seeds))
        bias, spread = float(np.mean(row.errors)), float(np.std(row.errors))
        held = f"{row.held}/{row.judged}" if row.judged else "-"
        print(f"{name:28s}{row.bar:8.2f}{bias:10.5f}{spread:10.5f}{row.worst:10.5f}{held:>10s}")
        for fault in row.faults:
            print(f"    {fault}")
    over_line, over_bound = efficiency(range(5 * seeds))
    print(f"without slip, {5 * seeds} logs: mean square error over the best line's {over_line:.3f} (bar 1.10),")
    print(f"  the line's over 12σ²/(N(N+1)(N+2)) {over_bound:.3f}, sure to ± {2 * np.sqrt(2 / (5 * seeds)):.2f}")


def print_coverage(logs: int) -> None:
    kinds = {name: shares(judge, range(logs)) for name, judge in (("ratio", ratio_covered), ("twist", twist_covered))}
    print(f"\n95 % intervals that held the truth, of {logs} mixed logs each (bar: 93 to 97 % of all)")
    print(f"{'':20s}" + "".join(f"{name:>18s}" for name in kinds))
    for group in sorted(set().union(*(by for _, by in kinds.values())), key=lambda g: (g != "all", g)):
        cells = []
        for _, by in kinds.values():
            held, of = by.get(group, (0, 0))
            cells.append(f"{held:4d}/{of:<4d} {100 * held / of:5.1f} %" if of else "-")
        print(f"{group:20s}" + "".join(f"{cell:>18s}" for cell in cells))
    for name, (every, _) in kinds.items():
        off = np.array([c.off_u for c in every])
        width = 100 * np.median([c.half_width for c in every])
        far = f"largest {np.abs(off).max():.1f} u; half width, median {width:.2g} %"
        print(f"{name}: root mean square of error over u {np.sqrt(np.mean(off**2)):.2f}, {far}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=60, help="simulated logs for each row")
    parser.add_argument("--logs", type=int, default=500, help="simulated logs for the coverage of intervals")
    options = parser.parse_args()
    print_bars(options.seeds)
    print_coverage(options.logs)


if __name__ == "__main__":
    main()
