"""Periodic loss against an outside periodogram on the same series.

astropy's LombScargle (J. T. VanderPlas, ApJS 236 (2018) 16) fits a sinusoid by least squares at each frequency to
samples at any places. It gets the middle of each step, in wheel turns, and the step's lost share.
"""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE), str(HERE.parent)]

from loss_of_logs import Losses, losses_of  # noqa: E402

from tools import require  # noqa: E402
from whorlpulse.simulate import PeriodicLoss, Sensor, scenario  # noqa: E402

FOUR = (0.0, 0.25, 0.5, 0.75)
LOWEST = 0.06  # per wheel turn; slower is drift, of which both know nothing


def log_with_line(order: float, share: float, seed: int, missed: float = 0.0) -> Losses:
    case = scenario("bad-joint")
    band = replace(case.band, periodic=(PeriodicLoss(order, amplitude=share, mean=share),))
    sensors = (Sensor("w", FOUR), Sensor("f", missed=missed))
    return losses_of(replace(case.lasting(150.0), band=band, sensors=sensors), seed)


def samples(losses: Losses) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Middle (n,), length (n,), both in wheel turns, and lost share (n,) of the steps at speed."""
    one = losses.series
    kept = one.at_speed & one.single
    middle, gap = 0.5 * (one.turns[1:] + one.turns[:-1]), np.diff(one.turns)
    return middle[kept], gap[kept], (one.sudden / gap / losses.ratio)[kept]


def library(middle: np.ndarray, share: np.ndarray) -> Any:
    require("astropy", lambda: importlib.util.find_spec("astropy") is not None)
    from astropy.timeseries import LombScargle

    return LombScargle(middle, share)


def periodogram(losses: Losses) -> tuple[Any, np.ndarray, np.ndarray]:
    middle, _, share = samples(losses)
    lomb = library(middle, share)
    f = np.arange(LOWEST, 0.5 * losses.targets, 0.1 / np.ptp(middle))
    f = f[np.abs(f - np.rint(f)) > 0.05]  # the wheel's own orders are in the usual advance
    return lomb, f, lomb.power(f)


@pytest.mark.parametrize(("order", "share"), [(0.763, 0.01), (0.412, 0.004), (1.37, 0.01), (0.231, 0.002)])
@pytest.mark.parametrize("missed", [0.0, 0.02])
def test_period_and_size_are_the_librarys(order, share, missed):
    losses = log_with_line(order, share, 21, missed)
    lomb, f, power = periodogram(losses)
    best = float(f[power.argmax()])
    (whorl,) = losses.found.whorls
    line = next(x for x in whorl.lines if x.source != "wheel")
    middle, gap, _ = samples(losses)
    # a fifth of the resolution: both look on grids of their own
    assert line.per_wheel_turn == pytest.approx(best, abs=0.2 / np.ptp(middle))
    assert line.per_wheel_turn == pytest.approx(order, rel=0.02)
    # The library fits step means, which a step of g turns makes smaller by sin(π f g)/(π f g).
    theta = lomb.model_parameters(line.per_wheel_turn)
    mean_size = float(np.hypot(theta[1], theta[2]))
    assert line.share * np.sinc(line.per_wheel_turn * np.median(gap)) == pytest.approx(mean_size, rel=0.05)
    assert lomb.false_alarm_probability(power.max(), maximum_frequency=float(f[-1])) < 1e-4


def test_neither_finds_a_line_in_a_band_without_one():
    case = replace(scenario("steady").lasting(150.0), sensors=(Sensor("w", FOUR), Sensor("f")))
    losses = losses_of(case, 22)
    (whorl,) = losses.found.whorls
    assert [x for x in whorl.lines if x.source != "wheel" and x.share > 1e-3] == []
    _, f, power = periodogram(losses)
    middle, _, share = samples(losses)
    best = library(middle, share).model_parameters(float(f[power.argmax()]))
    assert float(np.hypot(best[1], best[2])) < 1e-3
