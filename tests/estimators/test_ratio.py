"""The ratio of whole logs: made from exact times, then from the simulator with its truth."""

from dataclasses import replace

import numpy as np
import pytest
from tests.accuracy.trial import trial, true_ratio

from whorlpulse.conditioning import condition
from whorlpulse.estimators.ratio import FEWEST_TURNS, estimate_ratio
from whorlpulse.pulses import FLYER, WHEEL, Rows
from whorlpulse.rig import Rig
from whorlpulse.simulate import Sensor, scenario

RIG = Rig()


def rows(*parts):
    """Rows of (flyer turns per wheel turn, start, seconds) parts at one wheel turn a second, exact but for the tick."""
    t, channel = [], []
    for ratio, start, seconds in parts:
        for letter, at in ((FLYER, np.arange(0.0, seconds, 1 / ratio)), (WHEEL, np.arange(0.03, seconds, 1.0))):
            t.append(start + at)
            channel.append(np.full(len(at), letter))
    t, channel = np.concatenate(t), np.concatenate(channel)
    order = np.argsort(t, kind="stable")
    return Rows(np.floor(t[order] * 1e6).astype(np.int64), channel[order].astype(np.uint8))


def estimate(*parts, rig=RIG):
    return estimate_ratio(condition(rows(*parts), rig), rig.tick_hz)


@pytest.mark.parametrize("ratio", [4.0, 6.21, 8.4713, 15.0, 23.9])
def test_an_even_motion_is_read_to_the_tick(ratio):
    found = estimate((ratio, 1.0, 60.0))
    # two stamps cut to 1 µs over 54 turns and more: 1e-6 * ratio turns over 54, here ten times that
    assert found.ratio.value == pytest.approx(ratio, abs=2e-7 * ratio)
    assert found.ratio.low <= ratio <= found.ratio.high
    assert 48 <= found.wheel_turns <= 60  # an odd step of one tick near an end is left out with what lies beyond it
    assert found.flyer_turns == pytest.approx(ratio * found.wheel_turns, rel=1e-6)
    (run,) = found.runs
    assert run.cadence_hz == pytest.approx(1.0, rel=1e-6)


def test_a_span_too_short_says_nothing_and_a_longer_one_does():
    assert estimate((8.4, 0.0, 4.0)).ratio is None
    found = estimate((8.4, 0.0, FEWEST_TURNS + 12.0))
    assert found.ratio is not None
    assert found.wheel_turns >= FEWEST_TURNS


def test_runs_are_weighted_by_their_wheel_turns_and_grouped_by_whorl():
    found = estimate((8.40, 0.0, 50.0), (6.20, 60.0, 30.0), (8.41, 100.0, 40.0))
    assert [round(r.ratio.value, 3) for r in found.runs] == [8.4, 6.2, 8.41]
    assert [w.runs for w in found.whorls] == [(1,), (0, 2)]
    total = sum(r.ratio.value * r.wheel_turns for r in found.runs) / sum(r.wheel_turns for r in found.runs)
    assert found.ratio.value == pytest.approx(total, rel=1e-12)
    both = [found.runs[i] for i in (0, 2)]
    weighted = sum(r.ratio.value * r.wheel_turns for r in both) / sum(r.wheel_turns for r in both)
    assert found.whorls[1].ratio.value == pytest.approx(weighted, rel=1e-12)


def test_one_run_in_two_pieces_is_one_run():
    whole = rows((8.4, 0.0, 60.0))
    keep = np.ones(len(whole), bool)
    keep[280:290] = False
    cut = Rows(whole.tick[keep], whole.channel[keep], gap_row=np.array([280]), gap_lines=np.array([10]))
    found = estimate_ratio(condition(cut, RIG), 1e6)
    assert len(found.runs) == 1
    assert found.ratio.value == pytest.approx(8.4, abs=2e-6)
    assert found.wheel_turns < 58


def test_several_wheel_targets_make_one_better_ratio():
    """Uneven magnets cancel turn by turn, and more passages don't make the interval wider."""
    quiet = replace(scenario("steady"), sensors=(Sensor("w", jitter_s=4e-4), Sensor("f", jitter_s=4e-4)))
    four = replace(quiet, sensors=(Sensor("w", (0.0, 0.3, 0.444, 0.78), jitter_s=4e-4), Sensor("f", jitter_s=4e-4)))
    widths = []
    for case in (quiet, four):
        found = [trial(case, seed) for seed in range(6)]
        ratios = [f.ratio() for f in found]
        for f, (run,) in zip(found, (r.runs for r in ratios), strict=True):
            assert run.ratio.value == pytest.approx(true_ratio(f, run), rel=2e-4)  # the bar of a clean log
        widths.append(np.mean([r.ratio.half_width for r in ratios]))
    assert widths[1] < widths[0]


def test_the_run_made_is_surer_than_the_next_one_to_expect():
    found = trial(replace(scenario("creeping-band"), motion="kinematic"), 1).ratio()
    assert found.runs[0].expected.value == pytest.approx(found.runs[0].ratio.value, rel=1e-9)
    assert found.runs[0].expected.u >= found.runs[0].ratio.u


def test_bursts_count_as_they_were():
    """A loss that stands out is no noise: the run's ratio has it in, and its uncertainty knows nothing of it."""
    for seed in range(8):
        found = trial(scenario("planned-bursts"), seed)
        (run,) = found.ratio().runs
        true = true_ratio(found, run)
        assert run.ratio.value == pytest.approx(true, rel=3e-4)
        assert run.ratio.half_width < 1e-3 * true
        without = run.ratio.value + sum(b.lost_turns for b in found.truth.bursts) / run.wheel_turns
        assert without > run.ratio.high  # the bursts are in it


def test_cumulative_counts_make_a_ratio_too():
    found = trial(scenario("coarse-clock"), 2)
    estimate = found.ratio()
    (run,) = estimate.runs
    assert found.conditioned.coarse == frozenset({FLYER, WHEEL})
    assert run.ratio.value == pytest.approx(true_ratio(found, run), rel=1e-3)
    assert run.ratio.half_width < 1e-3 * run.ratio.value


@pytest.mark.parametrize("only", [FLYER, WHEEL])
def test_one_shaft_alone_has_no_ratio(only):
    both = rows((8.4, 0.0, 40.0))
    mine = both.channel == only
    assert estimate_ratio(condition(Rows(both.tick[mine], both.channel[mine]), RIG), 1e6).ratio is None
    assert estimate_ratio(condition(Rows.empty(), RIG), 1e6).ratio is None
