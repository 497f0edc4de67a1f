"""Cadence against closed forms and scipy, published tachometry, simulated truth, and coverage on wandering series."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats
from tests.accuracy.trial import trial
from tests.estimators.cadence_logs import conditioned, log_of, true_lap_ends

from whorlpulse.estimators.cadence import (
    batch_mean,
    by_true_clock,
    estimate_cadence,
    expected_cadence,
    mean_cadence,
    scatter,
    steadiness,
    trend,
    turn_to_turn,
)
from whorlpulse.estimators.laps import Laps, Treadled, laps_of, stalls, treadled_parts
from whorlpulse.estimators.measured import Measured
from whorlpulse.simulate import Board, Foot, Sensor, scenario


def laps(period_s, run=None):
    period_s = np.asarray(period_s, float)
    start = np.concatenate(([0.0], np.cumsum(period_s)[:-1]))
    return Laps(
        np.zeros(len(period_s), int) if run is None else np.asarray(run), start, period_s, np.ones_like(period_s)
    )


def wandering(n, rng, slow=0.03, correlation=20.0, quick=0.015):
    """Turn periods of mean 1 s: a walk that forgets after `correlation` turns, and noise from turn to turn."""
    keep = np.exp(-1.0 / correlation)
    walk = np.empty(n)
    walk[0] = slow * rng.standard_normal()
    for i in range(1, n):
        walk[i] = keep * walk[i - 1] + slow * np.sqrt(1 - keep**2) * rng.standard_normal()
    return 1.0 + walk + quick * rng.standard_normal(n)


def test_uncorrelated_batches_are_scipys_t_interval():
    # Batch means that alternate have no positive correlation, so nothing is added to the plain t interval.
    batches = np.repeat([1.00, 1.04, 0.99, 1.05, 1.01], 8)
    found = batch_mean(batches, np.ones(40))
    means = batches.reshape(5, 8).mean(axis=1)
    low, high = stats.t.interval(0.95, 4, loc=means.mean(), scale=stats.sem(means))
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-4)  # t is tabled to four decimals


def test_correlated_batches_widen_by_the_closed_form():
    # Means 1 to 5: lag-one products over squares is 0.4, plus 1/5 for the fitted mean, believed up to 0.5: factor 3.
    found = batch_mean(np.repeat(np.arange(1.0, 6.0), 4), np.ones(20))
    assert found.u == pytest.approx(stats.sem(np.arange(1.0, 6.0)) * np.sqrt(3.0))


def test_two_steady_runs_of_two_paces_are_sure_of_their_mean():
    rng = np.random.default_rng(5)
    period = np.concatenate((np.full(40, 0.9), np.full(40, 1.1))) + 0.002 * rng.standard_normal(80)
    found = mean_cadence(laps(period, np.repeat([0, 1], 40)))
    assert found.value == pytest.approx(80 / period.sum())
    assert found.half_width < 0.003
    # another log of two such runs may have two other paces: those differ by 0.2 s, 0.14 s as a standard deviation
    another = expected_cadence(laps(period, np.repeat([0, 1], 40)))
    assert another.value == pytest.approx(found.value)
    assert another.u > 0.14 / np.sqrt(2) / 2
    alone = expected_cadence(laps(period[:40]))
    assert (alone.value, alone.u) == pytest.approx(
        (mean_cadence(laps(period[:40])).value, mean_cadence(laps(period[:40])).u)
    )


@pytest.mark.parametrize(
    ("n", "correlation", "least"),
    [(120, 1.0, 0.93), (300, 20.0, 0.90), (900, 20.0, 0.93)],
)
def test_the_mean_is_covered_where_cadence_wanders(n, correlation, least):
    """Bars: 95 % where the log is long against the wandering; 90 % when it is fifteen times as long."""
    rng = np.random.default_rng(17)
    covered = [abs(found.value - 1.0) <= found.half_width for found in (
        batch_mean(wandering(n, rng, correlation=correlation), np.ones(n)) for _ in range(500)
    )]  # fmt: skip
    assert least <= np.mean(covered) <= 0.985
    # the standard error of independent turns, for comparison, is far from it where they are correlated
    if correlation > 1.0:
        naive = [abs(x.mean() - 1.0) <= 1.96 * stats.sem(x) for x in (wandering(n, rng) for _ in range(200))]
        assert np.mean(naive) < 0.6


@pytest.mark.parametrize(("n", "memory", "least"), [(400, 0.0, 0.92), (400, 0.8, 0.88), (60, 0.8, 0.80)])
def test_intervals_hold_for_periods_that_resemble_their_neighbours(n, memory, least):
    """AR(1) periods of mean 1 s and CV 5 %, the law's own; 60 turns are short against such a memory, and say it least.

    The spread's own law is skew and short of slow waves, so its interval holds a little less often than the mean's.
    """
    rng = np.random.default_rng(8)
    held = np.zeros(2)
    for _ in range(400):
        x = rng.standard_normal(n)
        for i in range(1, n):
            x[i] = memory * x[i - 1] + (1 - memory**2) ** 0.5 * x[i]
        parts = [treadled(1.0 + 0.05 * x)]
        mean, spread = mean_cadence(laps_of(parts)), steadiness(parts).overall
        held += (mean.low <= 1.0 <= mean.high, spread.low <= 0.05 <= spread.high)
    assert least <= held[1] / 400 <= 0.985
    assert max(least, 0.88) <= held[0] / 400 <= 0.985


def treadled(period_s):
    """These turn periods as passages of a wheel with one target."""
    t_s = np.concatenate(([0.0], np.cumsum(period_s)))
    n = len(t_s)
    return Treadled(0, None, 1, False, t_s, np.arange(n), np.zeros(n, bool))


def test_scatter_is_scipys_variation():
    x = 1.0 + 0.04 * np.random.default_rng(3).standard_normal(57)
    assert scatter(x) == pytest.approx(stats.variation(x, ddof=1), rel=1e-12)


def test_turn_to_turn_is_the_von_neumann_ratio():
    rng = np.random.default_rng(4)
    # a ramp of d a turn: half of d squared; white noise: all of its variance; both together add (n large)
    ramp = 1.0 + 0.001 * np.arange(400)
    assert turn_to_turn(np.diff(ramp), ramp) == pytest.approx(0.001 / np.sqrt(2) / ramp.mean())
    x = ramp + 0.02 * rng.standard_normal(400)
    assert turn_to_turn(np.diff(x), x) == pytest.approx(0.02 / x.mean(), rel=0.1)  # 400 draws tell a sd to 5 %


def test_trend_of_a_cadence_that_rises_by_the_minute():
    # turns(t) = t + a t²/2, so that the cadence is 1 + a t exactly; a batch's mean is its middle's cadence
    a = 0.02 / 60
    ends = (np.sqrt(1 + 2 * a * np.arange(181)) - 1) / a
    found = trend(laps(np.diff(ends)))
    assert found.value == pytest.approx(a, rel=1e-6)
    assert found.half_width < 1e-3 * a


def test_published_tachometry():
    """Period counting as printed in textbooks, by the same function that measures cadence.

    A 1 MHz clock counts 743 whole ticks in a period of 1345 Hz and so reads 1345.895 Hz ("Two types of frequency
    counter", web page in the Nemotron-CC-Math collection); 1 Hz timed with a 1 microsecond base is known to
    0.0001 % (MM4620, US Army correspondence course, pages 13 and 14).
    """
    counted = np.floor(1e6 / 1345.0)
    assert mean_cadence(laps(np.full(20, counted * 1e-6))).value == pytest.approx(1345.895, abs=1e-3)
    assert mean_cadence(laps(np.full(20, 1.000001))).value == pytest.approx(1.0, rel=1.01e-6)


def test_a_true_clock_divides_and_adds_its_uncertainty():
    found = by_true_clock(Measured(1.003, 0.001), Measured(1.003, 0.0005))
    assert found.value == pytest.approx(1.0)
    # GUM 5.1.6: relative variances add
    assert found.u == pytest.approx(np.hypot(0.001 / 1.003, 0.0005 / 1.003))


@pytest.mark.parametrize("angles", [(0.0,), (0.0, 0.27, 0.5, 0.71)])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_simulated_treadling_against_its_truth(angles, seed):
    case = trial(replace(scenario("steady"), sensors=(Sensor("w", angles), Sensor("f"))), seed)
    found = estimate_cadence(case.conditioned)
    (run,) = found.runs
    ends = true_lap_ends(case, run.start_s, run.end_s)[:: len(angles)]
    true = np.diff(ends)
    # sensor jitter of 20 microseconds at both ends, 5 sigma, and a tick
    assert found.mean.value == pytest.approx(len(true) / (ends[-1] - ends[0]), rel=2e-4 / (ends[-1] - ends[0]))
    assert case.truth.wheel_turns_at(ends[-1]) - case.truth.wheel_turns_at(ends[0]) == pytest.approx(found.wheel_turns)
    # one target: the same laps, up to jitter; four: laps begun at other targets average to nearly the same
    assert found.steadiness.overall.value == pytest.approx(
        stats.variation(true, ddof=1), rel=2e-3 if len(angles) == 1 else 0.1
    )
    quick = np.sqrt(0.5 * np.mean(np.diff(true) ** 2)) / true.mean()
    assert found.steadiness.turn_to_turn.value == pytest.approx(quick, rel=5e-3 if len(angles) == 1 else 0.2)
    assert found.steadiness.drift**2 == pytest.approx(
        found.steadiness.overall.value**2 - found.steadiness.turn_to_turn.value**2, abs=1e-12
    )


def test_starting_up_and_running_down_are_left_out():
    case = trial(scenario("steady"), 1)
    (run,) = estimate_cadence(case.conditioned).runs
    true = case.truth.runs[0]
    speed = np.gradient(case.truth.wheel_turns_at(np.arange(run.start_s, run.end_s, 0.5)), 0.5)
    assert true.start_s < run.start_s < run.end_s < true.end_s
    assert speed.min() > 0.75 * np.median(speed)


def test_a_wheel_alone_has_the_same_cadence():
    both = trial(scenario("steady"), 2)
    alone = trial(replace(scenario("steady"), sensors=(Sensor("w"),)), 2)
    one, other = (estimate_cadence(c.conditioned) for c in (both, alone))
    assert other.mean.value == pytest.approx(one.mean.value, rel=0.01)  # a turn more or less at the ends
    assert other.steadiness is not None


def test_lines_for_several_pulses_give_a_mean_only():
    case = trial(replace(scenario("steady"), board=Board(report_every_s=3.0)), 3)
    found = estimate_cadence(case.conditioned)
    # where more than three seconds brought no line, the count is not carried on: each part has its own truth
    true = [true_lap_ends(case, p.t_s[0], p.t_s[-1]) for p in treadled_parts(case.conditioned)]
    seconds = sum(ends[-1] - ends[0] for ends in true)
    assert found.mean.value == pytest.approx(sum(len(ends) - 1 for ends in true) / seconds, rel=1e-5)
    assert found.wheel_turns > 60
    assert found.steadiness is None
    assert stalls(case.conditioned, treadled_parts(case.conditioned)) == []


def test_too_few_turns_are_refused():
    assert estimate_cadence(conditioned(log_of(lambda t: t, 4.5))).mean is None
    assert estimate_cadence(conditioned(log_of(lambda t: t, 9.5))).mean.value == pytest.approx(1.0, rel=1e-5)


def slowing_at_20(t):
    """One turn a second, but from 20.3 s on the wheel creeps at a quarter of its speed for 1.2 s."""
    return t - 0.75 * np.clip(t - 20.3, 0.0, 1.2)


def running_back_at_20(t):
    """One turn a second, but at 20.3 s the wheel runs back by 0.15 turn and on again, within 1.2 s."""
    back = np.clip(t - 20.3, 0.0, 0.6) - np.clip(t - 20.9, 0.0, 0.6)
    return t - np.clip(t - 20.3, 0.0, 1.2) - 0.25 * back


def test_a_stall_is_found_and_placed():
    log = conditioned(log_of(slowing_at_20, 40.0))
    (stall,) = stalls(log, treadled_parts(log))
    assert stall.start_s <= 20.3 < stall.end_s
    assert stall.end_s - stall.start_s == pytest.approx(1.9, abs=0.01)  # 0.9 s lost
    assert stall.usual_s == pytest.approx(1.0, abs=1e-3)
    assert stall.ran_back is False


def test_a_wheel_that_ran_back_shows_as_a_stall_with_more_flyer_turns():
    log = conditioned(log_of(running_back_at_20, 40.0))
    (stall,) = stalls(log, treadled_parts(log))
    assert stall.start_s <= 20.3 < stall.end_s
    assert stall.ran_back is True


@pytest.mark.parametrize("seed", range(4))
def test_uneven_treadling_is_no_stall(seed):
    case = trial(replace(scenario("steady"), foot=Foot(turn_scatter=0.3, wander=0.06)), seed)
    assert stalls(case.conditioned, treadled_parts(case.conditioned)) == []


def test_laps_are_whole_turns_between_lost_lines():
    text = log_of(lambda t: t, 60.0).decode().splitlines()
    numbered = [f"{line},{i}" if line[0] != "#" else line for i, line in enumerate(text)]
    holed = ("\n".join(x for i, x in enumerate(numbered) if not 250 <= i < 253) + "\n").encode()
    log = conditioned(holed)
    found = laps_of(treadled_parts(log))
    np.testing.assert_allclose(found.period_s, 1.0, atol=1e-5)
    assert 50 <= len(found.turns) < 58
