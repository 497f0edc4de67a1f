"""The tie of a sensor's clock: against scipy's linear program and hull, and against simulated truth."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from csc_truth import Sensor, wheel_and_flyer
from scipy.optimize import linprog
from scipy.spatial import ConvexHull

from whorlpulse.wire.csc.clock_tie import DRIFT_LIMIT, envelope
from whorlpulse.wire.csc.hull import lower_hull, slope_over
from whorlpulse.wire.csc.pace import Pace
from whorlpulse.wire.csc.tie_window import TieWindow


@pytest.mark.parametrize("seed", range(8))
def test_the_hull_is_scipys_and_its_edge_solves_the_linear_program(seed: int) -> None:
    r = np.random.default_rng(seed)
    x = np.sort(r.uniform(0, 200, 120))
    y = 0.3 + 2e-4 * x + r.exponential(0.03, 120)
    points = list(zip(x.tolist(), y.tolist(), strict=True))
    hull = ConvexHull(np.column_stack((x, y)))
    lower = {
        (float(a), float(b))
        for simplex, (_, ny, _) in zip(hull.simplices, hull.equations, strict=True)
        if ny < 0
        for a, b in hull.points[simplex]
    }
    assert set(lower_hull(points)) == lower
    # least total distance of all lines under the points: minimise sum(y - a - b x) with a + b x <= y
    best = linprog(
        [-120.0, -x.sum()], A_ub=np.column_stack((np.ones(120), x)), b_ub=y, bounds=[(None, None)] * 2, method="highs"
    )
    assert best.success
    assert slope_over(points, float(x.mean())) == pytest.approx(best.x[1], abs=1e-9)


def test_no_event_comes_after_its_report() -> None:
    r = random.Random(3)
    points = [(float(e), e * (1 + 1e-4) + 5.0 + r.expovariate(30)) for e in range(100)]
    tie = envelope(points)
    assert all(tie.host_s(e) <= a + 1e-9 for e, a in points)
    assert tie.drift == pytest.approx(1e-4, abs=5e-5)
    assert tie.event_s(tie.host_s(42.5)) == pytest.approx(42.5, abs=1e-9)


def test_a_clock_is_not_believed_to_drift_beyond_the_radios_standard() -> None:
    assert envelope([(0.0, 1.0), (0.5, 1.5), (1.0, 2.1)]).drift <= DRIFT_LIMIT
    assert envelope([(0.0, 1.3), (0.5, 1.5), (1.0, 2.0)]).drift >= -DRIFT_LIMIT
    with pytest.raises(ValueError, match="needs a point"):
        envelope([])


def tie_error(pace_s: float, mean_s: float, seconds: float, seed: int, *, flyer: bool) -> tuple[list[float], float]:
    """Errors of the tie at the start, middle and end beyond the least delay, and the uncertainty it states."""
    times = wheel_and_flyer(seed, seconds)[1 if flyer else 0]
    sensor = Sensor(100.0 if seed % 2 else -100.0, 0, pace_s=pace_s, mean_s=mean_s)
    window, told = TieWindow(), 0
    for sent in sensor.sends(times, seconds, seed + 50):
        window.report(sent.arrival_s)
        if sent.turns > told:
            event_s = sensor.ticks(times[sent.turns - 1]) / 1024
            window.add(event_s, sent.arrival_s, sent.turns - told if told else 0)
            told = sent.turns
    tie = window.tie()
    assert tie is not None
    at = [times[1], times[len(times) // 2], times[told - 1]]
    return [tie.host_s(t * (1 + sensor.ppm * 1e-6)) - t - sensor.least_s for t in at], tie.u_s


@pytest.mark.parametrize("flyer", [False, True])
@pytest.mark.parametrize(("pace_s", "mean_s"), [(0.0, 0.03), (0.0, 0.06), (0.25, 0.03), (1.0, 0.03), (1.0, 0.06)])
def test_the_stated_uncertainty_is_what_the_errors_are(pace_s: float, mean_s: float, flyer: bool) -> None:
    """Over ten simulated pairs of 90 s; ten draws give a quadratic mean to about a fifth, hence 1.3."""
    drawn = [tie_error(pace_s, mean_s, 90.0, seed, flyer=flyer) for seed in range(10)]
    error = math.sqrt(np.mean([np.square(errors) for errors, _ in drawn]))
    stated = math.sqrt(np.mean([u_s**2 for _, u_s in drawn]))
    assert error <= 1.3 * stated
    if pace_s == 0.0:
        assert stated <= 0.008  # and it is not said to be worse than it is


def test_a_steady_pace_is_seen_through_late_and_missing_reports() -> None:
    """Sent every 0.25 s on a clock 80 ppm off; each late by an exponential 40 ms, never overtaking; 8 s missing."""
    r = random.Random(5)
    pace, latest, worst = Pace(), 0.0, 0.0
    for n in range(2000):
        sent_s = 100 + n * 0.25 * (1 + 80e-6)
        if 800 <= n < 832:
            continue
        latest = max(latest, sent_s + r.expovariate(1 / 0.04))
        number = pace.report(latest)
        if n > 100 and number is not None:
            told_s = pace.sent_s(number)
            assert told_s is not None
            worst = max(worst, abs(told_s - sent_s))
    assert worst < 0.006
    assert pace.pace_s == pytest.approx(0.25 * (1 + 80e-6), rel=2e-5)


def test_reports_without_a_pace_have_none() -> None:
    r = random.Random(6)
    pace, t = Pace(), 0.0
    for _ in range(300):
        t += r.uniform(0.2, 1.6)
        pace.report(t)
    assert pace.pace_s is None
