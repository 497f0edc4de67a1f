"""docs/accuracy.md: the grid's table and what stands around it."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from tests.accuracy.grid import Row

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "accuracy.md"
NOTES = ROOT / "tests" / "accuracy" / "grid_notes.md"

HEAD = (
    "| cell | turns | bias / u | error / u | covered | efficiency | bound over error | known over bound "
    "| counting over error | misses |"
)
_RULE = "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | --- |"


def line(r: Row) -> str:
    """Return a cell's row of the table."""
    return (
        f"| {r.name.split(': ', 1)[-1]} | {r.turns:.0f} | {r.bias:+.2f} | {r.rms:.2f} | {100 * r.covered:.1f} % "
        f"| {r.efficiency:.2f} ± {r.efficiency_u:.2f} | {_short(r.over_bound)} | {_short(r.known_over_bound)} "
        f"| {_short(r.over_count)} | {', '.join(r.misses)} |"
    )


def _short(value: float) -> str:
    return f"{value:.2f}" if value < 10 else f"{value:.3g}"


def page(found: Sequence[Row], logs: int) -> str:
    """Return the whole page."""
    commit = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.strip()
    sure = 100 * np.sqrt(0.95 * 0.05 / logs)
    good = sum(not r.misses for r in found)
    lines = [
        "# How exact the ratio is",
        "",
        f"Simulated wheels only, {logs} logs a cell, {len(found)} cells, of commit {commit}. Made by",
        f"`python tests/accuracy/grid.py --logs {logs} --write`; tests/accuracy/grid_cells.py says what each cell is.",
        "",
        f"Coverage of 95 % intervals is sure to ± {sure:.1f} % (one standard error of {logs} logs), mean squares to",
        f"± {100 * np.sqrt(2 / logs):.0f} %. A cell misses a bar when it does so by more than two standard errors:",
        "coverage 93 to 97 %; efficiency 0.9 from 20 wheel turns on; bias a tenth of u.",
        f"{good} of {len(found)} cells meet all three.",
        "",
        NOTES.read_text(encoding="utf-8").strip(),
    ]
    group = ""
    for r in found:
        its = r.name.split(": ", 1)[0]
        if its != group:
            group = its
            lines += ["", f"## {group}", "", HEAD, _RULE]
        lines.append(line(r))
    return "\n".join(lines) + "\n"
