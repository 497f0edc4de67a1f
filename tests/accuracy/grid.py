"""The published grid: `python tests/accuracy/grid.py [--logs 300] [--cells PATTERN] [--write]`.

Each cell (`grid_cells.py`) is some hundreds of simulated logs, read and conditioned like any other and held against
their own truth. `--write` puts the table into docs/accuracy.md, with the commit.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.accuracy.bound import best_known
from tests.accuracy.grid_cells import CELLS, Cell
from tests.accuracy.trial import trial

from whorlpulse.estimators.wheel_steps import pieces_at_speed


@dataclass(frozen=True)
class Judged:
    """One log. error, u, half: of the ratio. counted: error of counting end to end. turns: wheel turns.

    passages, steps: of each piece. noise, slips: measured less true turns at the passages, and true steps, about their
    means: what the bound's sigma (and for a treadled wheel its q) are taken from.
    """

    error: float
    u: float
    half: float
    counted: float
    true: float
    turns: float
    passages: tuple[tuple[int, ...], ...]
    steps: np.ndarray
    noise: np.ndarray
    slips: np.ndarray


@dataclass(frozen=True)
class Row:
    """What a cell shows; `Row.of` says how. share_u: standard error of efficiency."""

    name: str
    logs: int
    refused: int
    turns: float
    bias: float
    rms: float
    covered: float
    efficiency: float
    efficiency_u: float
    over_bound: float
    known_over_bound: float
    over_count: float

    @property
    def misses(self) -> list[str]:
        """Which bars the cell misses by more than chance (two standard errors) allows."""
        chance = 2.0 / np.sqrt(self.logs)
        slack = chance * np.sqrt(0.95 * 0.05)
        missed = []
        if not 0.93 - slack <= self.covered <= 0.97 + slack:
            missed.append("coverage")
        if self.turns >= 19.5 and max(self.efficiency + 2 * self.efficiency_u, self.over_bound) < 0.9:
            missed.append("efficiency")
        if abs(self.bias) > 0.1 + chance * self.rms:
            missed.append("bias")
        return missed


def judged(key: str, number: int) -> Judged | None:
    """Judge log `number` of a cell; None where no ratio was said."""
    cell = CELLS[key]
    found = trial(cell.scenario(number), cell.seed(number))
    pieces = pieces_at_speed(found.conditioned, cell.wheel)
    said = found.ratio().ratio
    if said is None:
        return None
    passed = found.truth.passages_s("w")
    wheel, flyer, noise, slips = [], [], [], []
    for p in pieces:
        at = passed[np.abs(passed[:, None] - p.t_s).argmin(axis=0)]
        w, f = found.truth.wheel_turns_at(at), found.truth.flyer_turns_at(at)
        wheel.append(w[-1] - w[0])
        flyer.append(f[-1] - f[0])
        noise.append(p.y - f - np.mean(p.y - f))
        made, after = np.diff(f), p.passage[:-1] % cell.wheel
        for j in np.unique(after):
            made[after == j] -= made[after == j].mean()
        slips.append(made[np.diff(p.passage) == 1])
    true = sum(flyer) / sum(wheel)
    return Judged(
        error=said.value - true,
        u=said.u,
        half=said.half_width,
        counted=sum(float(p.y[-1] - p.y[0]) for p in pieces) / sum(wheel) - true,
        true=true,
        turns=sum(wheel),
        passages=tuple(tuple((p.passage - p.passage[0] + p.passage[0] % cell.wheel).tolist()) for p in pieces),
        steps=np.concatenate([np.diff(p.y) for p in pieces]),
        noise=np.concatenate(noise),
        slips=np.concatenate(slips),
    )


def row(key: str, logs: Sequence[Judged | None]) -> Row:
    """Sum up a cell."""
    cell, kept = CELLS[key], [j for j in logs if j is not None]
    noise = np.concatenate([j.noise for j in kept])
    sigma = float(np.sqrt((noise**2).sum() / (len(noise) - sum(len(j.passages) for j in kept))))
    q = _slip(cell, kept)
    known = [best_known(j.passages, cell.wheel, sigma, q, cell.ratio * cell.flyer) for j in kept]
    told = np.array([k.ratio(j.steps) - j.true for k, j in zip(known, kept, strict=True)])
    error, u = np.array([j.error for j in kept]), np.array([j.u for j in kept])
    bound, ours = np.mean([k.u**2 for k in known]), np.mean(error**2)
    efficiency = float(np.mean(told**2) / ours)
    return Row(
        name=key,
        logs=len(kept),
        refused=len(logs) - len(kept),
        turns=float(np.mean([j.turns for j in kept])),
        bias=float(error.mean() / np.sqrt(np.mean(u**2))),
        rms=float(np.sqrt(np.mean((error / u) ** 2))),
        covered=float(np.mean([abs(j.error) <= j.half for j in kept])),
        efficiency=efficiency,
        efficiency_u=float(np.std(told**2 - efficiency * error**2) / np.sqrt(len(kept)) / ours),
        over_bound=float(bound / ours),
        known_over_bound=float(np.mean(told**2) / bound),
        over_count=float(np.mean([j.counted**2 for j in kept]) / ours),
    )


def _slip(cell: Cell, kept: Sequence[Judged]) -> float:
    """The slip noise of a wheel turn: what was put in, or what the shafts of a treadled wheel really did."""
    if not cell.mechanical:
        return cell.slip
    return float(np.sqrt(np.mean(np.concatenate([j.slips for j in kept]) ** 2) * cell.wheel))


def rows(keys: Sequence[str], logs: int) -> Iterator[Row]:
    """Judge the cells, two logs at a time."""
    with ProcessPoolExecutor(min(2, os.cpu_count() or 1)) as pool:
        for key in keys:
            yield row(key, list(pool.map(partial(judged, key), range(logs), chunksize=10)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--logs", type=int, default=300, help="simulated logs in each cell")
    parser.add_argument("--cells", default=".", help="only cells whose name matches this expression")
    parser.add_argument("--write", action="store_true", help="put the table into docs/accuracy.md")
    options = parser.parse_args()
    from tests.accuracy.grid_page import PAGE, line, page

    found = []
    for one in rows([k for k in CELLS if re.search(options.cells, k)], options.logs):
        found.append(one)
        print(line(one), flush=True)
    if options.write:
        PAGE.write_text(page(found, options.logs), encoding="utf-8")


if __name__ == "__main__":
    main()
