"""The figures of timing.md against a simulated wheel whose stamps scatter, evaluated without our estimators.

Truth: wheel about 1 turn/s (drawn for each trial, so that ticks and turns don't beat the same way), flyer 6.21 times
that, both steady, phases random. The flyer's turns at each stamped wheel passage
are interpolated between its stamped pulses; the slope is the difference of two readings, or numpy's polynomial fit.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pytest
from board import NOTES

FloatArray = npt.NDArray[np.float64]
RATIO = 6.21
TURNS = 60
TRIALS = 1_500


@dataclass(frozen=True)
class Row:
    scatter_us: float
    reading_turns: float
    one_turn: float
    end_to_end: float
    all_readings: float


def rows() -> list[Row]:
    text = (NOTES / "timing.md").read_text(encoding="utf-8")
    found = re.findall(
        r"^\| ([\d.]+) µs \|[^|]*\| ([\d.e-]+) \| ([\d.e-]+) \| ([\d.e-]+) \| ([\d.e-]+) \|$", text, re.M
    )
    return [Row(*map(float, row)) for row in found]


def stamps(scatter_us: float, chance: np.random.Generator) -> Callable[[FloatArray], FloatArray]:
    """Turns true times in seconds into stamped ones; below one tick's scatter only the tick itself acts."""
    if scatter_us < 1:
        return lambda t_s: np.floor(t_s * 1e6) * 1e-6
    return lambda t_s: t_s + chance.normal(0.0, scatter_us * 1e-6, t_s.shape)


def readings(scatter_us: float, chance: np.random.Generator) -> FloatArray:
    """Flyer turns at the wheel's passages 0 to TURNS, as stamps tell them, shape (TURNS + 1,)."""
    stamp = stamps(scatter_us, chance)
    start_s = 1.0 + chance.random()
    turn_s = chance.uniform(0.95, 1.05)
    wheel_s = start_s + turn_s * np.arange(TURNS + 1.0)
    flyer = np.arange(-20.0, RATIO * (TURNS + 1) + 20)
    flyer_s = start_s + turn_s * (flyer + chance.random()) / RATIO
    turns: FloatArray = np.interp(stamp(wheel_s), stamp(flyer_s), flyer)
    return turns


def test_the_table_is_there() -> None:
    assert [row.scatter_us for row in rows()] == [0.289, 40.0, 100.0, 1000.0]


@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row.scatter_us} us")
def test_the_budget_holds_in_simulation(row: Row) -> None:
    chance = np.random.default_rng(621)
    turns = np.array([readings(row.scatter_us, chance) for _ in range(TRIALS)])
    number = np.arange(TURNS + 1.0)
    simulated = {
        "one turn": np.std(turns[:, 1] - turns[:, 0]) / RATIO,
        "end to end": np.std(turns[:, -1] - turns[:, 0]) / TURNS / RATIO,
        "all readings": np.std(np.polyfit(number, turns.T, 1)[0]) / RATIO,
    }
    printed = {"one turn": row.one_turn, "end to end": row.end_to_end, "all readings": row.all_readings}
    for name, value in simulated.items():
        # interpolating between two flyer stamps averages their errors: the budget is up to a quarter too high
        # (sqrt(2/3 + 1) for sqrt(2)), and 1500 trials and two printed digits add 5 % either way
        assert 0.7 * printed[name] <= value <= 1.06 * printed[name], name


def test_a_reading_scatters_as_the_first_column_says() -> None:
    for row in rows():
        assert row.reading_turns == pytest.approx(np.sqrt(2) * RATIO * row.scatter_us * 1e-6, rel=0.02)
