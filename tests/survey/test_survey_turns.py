"""How long to treadle: against numpy's straight-line fit, and against simulated logs that are just so long."""

import math

import numpy as np
import pytest

from whorlpulse.actions.recording import read_recording
from whorlpulse.cli.inputs import Given, rig_of
from whorlpulse.conditioning import condition
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.ratio import estimate_ratio
from whorlpulse.estimators.survey_turns import END_TURNS, more_turns, planned_turns, run_to_run_u, turns_for
from whorlpulse.simulate import Band, Scenario, Sensor, Stop, Treadling, simulate


@pytest.mark.parametrize("turns", [5, 20, 117])
def test_timing_alone_is_the_variance_of_a_straight_lines_slope(turns):
    # numpy.polyfit's covariance for unit weights, unscaled: (XᵀX)⁻¹, its first entry the slope's.
    x = np.arange(turns + 1.0)
    design = np.stack([x, np.ones_like(x)], axis=1)
    slope_variance = np.linalg.inv(design.T @ design)[0, 0]
    assert run_to_run_u(turns, 0.03, 0.0) == pytest.approx(0.03 * math.sqrt(slope_variance), rel=1e-9)


def test_slip_alone_is_the_difference_of_two_runs_random_walks():
    rng = np.random.default_rng(5)
    runs = rng.normal(0.0, 0.02, (2, 40_000, 50)).mean(axis=2)
    # 40,000 pairs know the spread to 0.4 %.
    assert run_to_run_u(50, 0.0, 0.02) == pytest.approx(float(np.std(runs[0] - runs[1])), rel=0.015)


def test_the_least_number_of_turns_is_the_least():
    for half_width, timing, slip in ((0.004, 0.004, 0.01), (0.0005, 0.01, 0.002), (0.5, 0.001, 0.0)):
        n = turns_for(half_width, timing, slip)
        assert 1.96 * run_to_run_u(n, timing, slip) <= half_width * 1.0001
        assert n == 1 or 1.95996 * run_to_run_u(n - 1, timing, slip) > half_width


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan])
def test_a_half_width_that_is_none_is_refused(bad):
    with pytest.raises(ValueError, match="positive"):
        turns_for(bad, 0.01, 0.01)


def test_what_no_log_can_reach_is_refused():
    with pytest.raises(ValueError, match="out of reach"):
        turns_for(1e-9, 0.01, 0.05)


def test_more_turns_are_said_only_where_they_are_wanted():
    assert more_turns(Measured(6.0, 0.001), 40.0, 0.001) is None
    # Half the ± takes four times the turns, by the slowest law.
    assert more_turns(Measured(6.0, 0.012 / 1.959964), 40.0, 0.001) == pytest.approx(160, abs=1)


def test_logs_as_long_as_the_guide_says_reach_what_it_promises():
    """Noise as the guide reckons with it; the truth of a kinematic wheel without slip noise is its ratio."""
    turns, ratio = planned_turns(0.001), 4.0
    case = Scenario(
        "guided",
        "as long as the guide says",
        (Stop(1.5), Treadling((turns + END_TURNS) * 1.0, 60.0, ratio=ratio), Stop(4.0)),
        motion="kinematic",
        band=Band(slip_noise=0.01),
        sensors=(Sensor("w", jitter_s=1e-3), Sensor("f", jitter_s=1e-3)),
    )
    off, half = [], []
    for seed in range(24):
        capture = simulate(case, seed)
        recording = read_recording(lambda capture=capture: [capture.log], "guided.pulses")
        rig, _ = rig_of(recording, Given(), needs_length=False)
        found = estimate_ratio(condition(recording.log.rows, rig), rig.tick_hz)
        assert found.ratio is not None
        off.append(abs(found.ratio.value / ratio - 1.0))
        half.append(found.runs[0].expected.half_width / ratio)
    # The ± of a run as long as said is about as wide as promised (noise is estimated anew from each log) ...
    assert float(np.median(half)) <= 0.0012
    # ... and the error, of one run and not of two, stays within it: 95 % of 24 would leave 1.2 out, five is 1 in 100.
    assert sum(o > 0.001 for o in off) <= 4
