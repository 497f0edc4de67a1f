"""Bursts against an outside change-point library on the same series.

ruptures 1.1 (C. Truong, L. Oudre, N. Vayatis, Signal Processing 167 (2020) 107299) parts a series into stretches of
constant mean with least squared error. A burst is such a step in the band's cumulative loss, so both must place it
alike. The library is told nothing of pulses, targets or timing; told how many steps there are it finds where, and
with a price on each step it finds how many.
"""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from loss_of_logs import Losses, first_step_at, losses_of  # noqa: E402

from tools import require  # noqa: E402
from whorlpulse.simulate import Sensor, SlipBurst, scenario  # noqa: E402

FOUR = (0.0, 0.25, 0.5, 0.75)
TIMES_S = (14.0, 22.5, 31.0, 38.2, 47.0, 55.5, 66.0, 74.4, 83.0)
#: Steps between two wheel targets: both may be one off at either end, because a burst begins within a step.
STEPS_OFF = 2


def log_with_bursts(lost: float, seed: int) -> Losses:
    case = scenario("planned-bursts")
    bursts = tuple(SlipBurst(t, lost, 0.3 + 0.2 * lost) for t in TIMES_S)
    sensors = (Sensor("w", FOUR), Sensor("f"))
    return losses_of(replace(case, band=replace(case.band, bursts=bursts), sensors=sensors), seed)


def steps_by_library(level: np.ndarray, **how: float) -> list[int]:
    """Where the library parts the series level (n,): the first points of all stretches but the first."""
    require("ruptures", lambda: importlib.util.find_spec("ruptures") is not None)
    import ruptures

    return ruptures.KernelCPD(kernel="linear", min_size=2).fit(level[:, None]).predict(**how)[:-1]


def cumulative(losses: Losses) -> np.ndarray:
    return np.cumsum(losses.series.sudden[losses.series.at_speed])


def spans_of_bursts(losses: Losses) -> list[tuple[int, int]]:
    """First and last step of each burst that was found, numbered from the first step at speed."""
    first = int(np.flatnonzero(losses.series.at_speed)[0])
    return [tuple(first_step_at(losses.series, t) - first for t in (b.start_s, b.end_s)) for b in losses.found.bursts]


@pytest.mark.parametrize("lost", [0.5, 1.0])
@pytest.mark.parametrize("seed", [11, 12])
def test_the_library_places_the_steps_where_the_bursts_are(lost, seed):
    losses = log_with_bursts(lost, seed)
    spans = spans_of_bursts(losses)
    assert len(spans) == len(TIMES_S)
    points = steps_by_library(cumulative(losses), n_bkps=len(spans))
    for point, (first, last) in zip(points, spans, strict=True):
        assert first - STEPS_OFF <= point - 1 <= last + STEPS_OFF


@pytest.mark.parametrize("lost", [0.5, 1.0])
def test_the_library_counts_as_many_steps(lost):
    losses = log_with_bursts(lost, 13)
    level = cumulative(losses)
    # A step of J between stretches of m points is worth J² m / 2; half of the smallest step here over five turns:
    price = 0.5 * (0.5 * lost) ** 2 * 5 * losses.targets
    points = steps_by_library(level, pen=price)
    assert len(points) == len(losses.found.bursts) == len(TIMES_S)


def test_neither_finds_a_step_where_nothing_slipped():
    case = replace(scenario("steady"), sensors=(Sensor("w", FOUR), Sensor("f")))
    losses = losses_of(case, 14)
    price = 0.5 * 0.25**2 * 5 * losses.targets
    assert steps_by_library(cumulative(losses), pen=price) == []
    assert losses.found.bursts == ()


@pytest.mark.parametrize("lost", [0.5, 1.0])
def test_sizes_are_the_librarys_differences_of_level(lost):
    losses = log_with_bursts(lost, 15)
    level = cumulative(losses)
    points = steps_by_library(level, n_bkps=len(TIMES_S))
    # the level just beside each step: a turn's worth of points, two left out where the burst is under way
    n = losses.targets
    steps = [np.median(level[p + 2 : p + 2 + n]) - np.median(level[p - 2 - n : p - 2]) for p in points]
    for burst, step in zip(losses.found.bursts, steps, strict=True):
        assert burst.lost == pytest.approx(step, rel=0.1)  # the bar for turns lost
