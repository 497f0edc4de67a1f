"""The whole count of a stretch against the passages that really were: missed and doubled found, slip left alone.

Both ends of three seconds are left out: there the wheel starts up or runs down, and neither shaft can judge the other.
"""

from dataclasses import replace

import numpy as np
import pytest
from tests.accuracy.trial import trial

from whorlpulse.conditioning import condition
from whorlpulse.pulses import FLYER, ROLLER, UNCOUNTED, WHEEL, Flag, Rows
from whorlpulse.rig import Rig
from whorlpulse.simulate import Sensor, scenario

ENDS_S = 3.0
FOUR = (0.0, 0.25, 0.5, 0.75)
FAULTY_FLYER = Sensor("f", missed=0.03, doubled=0.02)


def miscount(found, letter):
    """How many passages too many were counted between two true passages, three seconds inside the run."""
    run, true = found.truth.runs[0], found.truth.passages_s(letter)
    inside = np.flatnonzero((true > run.start_s + ENDS_S) & (true < run.end_s - ENDS_S))
    i, j = inside[0], inside[-1]
    low, high = 0.5 * (true[i - 1] + true[i]), 0.5 * (true[j] + true[j + 1])
    shafts = [s.flyer if letter == "f" else s.wheel for s in found.conditioned.stretches]
    counted = sum(int(((c.t_s > low) & (c.t_s < high)).sum()) for c in shafts)
    return counted - (j - i + 1)


def miscounted(case, seeds, letter="f"):
    return sum(miscount(trial(case, seed), letter) != 0 for seed in seeds)


def test_the_final_count_is_exact_with_three_missed_and_two_doubled_in_a_hundred():
    case = scenario("faulty-sensors")
    assert case.sensor("f").missed == 0.03
    assert case.sensor("f").doubled == 0.02
    assert miscounted(case, range(40)) <= 1  # measured: 0 of these 40, 3 of 240
    assert miscounted(case, range(40), "w") == 0


def test_four_wheel_targets_bear_twice_as_many_faults():
    case = replace(scenario("steady"), sensors=(Sensor("w", FOUR), Sensor("f", missed=0.06, doubled=0.04)))
    assert miscounted(case, range(100, 120)) <= 2  # measured: 1 of 80


@pytest.mark.parametrize(
    "angles", [(0.0,), FOUR, (0.0, 0.27, 0.5, 0.77), (0.0, 0.28, 0.5, 0.78), (0.0, 0.3, 0.444, 0.78), (0.0, 0.36, 0.7)]
)
def test_missed_and_doubled_wheel_targets_are_settled_on_the_flyers_scale(angles):
    sensors = (Sensor("w", angles, missed=0.03, doubled=0.02, bounced=0.03), Sensor("f"))
    case = replace(scenario("steady"), sensors=sensors)
    assert miscounted(case, range(15), "w") <= 1  # measured over 80 logs each: 2, 0, 1, 0, 0 and of 40, 0
    assert miscounted(case, range(15)) == 0


@pytest.mark.parametrize("name", ["steady", "creeping-band", "bad-joint", "three-runs", "uneven-magnets", "long-hour"])
def test_a_sound_log_is_not_mended(name):
    added = taken = pulses = 0
    for seed in range(1 if name == "long-hour" else 6):
        trains = trial(scenario(name), seed).conditioned.trains
        pulses += sum(len(trains[c]) for c in (FLYER, WHEEL))
        added += sum(int((trains[c].flag & Flag.FILLED > 0).sum()) for c in (FLYER, WHEEL))
        taken += sum(int((trains[c].flag & (Flag.EXTRA | Flag.BOUNCE) > 0).sum()) for c in (FLYER, WHEEL))
    assert pulses > 3000
    assert added <= 2e-4 * pulses
    assert taken <= 2e-4 * pulses


def test_planned_slip_bursts_are_not_filled():
    # Four bursts a log, 0.5 to 1.5 flyer turns. Measured over 80 logs: none miscounted.
    assert miscounted(scenario("planned-bursts"), range(30)) <= 1


def test_a_band_that_lets_go_keeps_every_loss():
    # Some 14 bursts a log, made by the limit of the grip. Measured over 60 logs: none miscounted.
    bursts = 0
    for seed in range(15):
        found = trial(scenario("slipping-band"), seed)
        bursts += len(found.truth.bursts)
        assert miscount(found, "f") == 0
    assert bursts > 150


def test_slip_and_miscounts_together_are_told_apart_in_part_only():
    # Three missed and two doubled in a hundred on top of four real bursts: a burst next to a fault can be read either
    # way. Measured over 80 logs: 22 with a wrong count, by 1.2 passages of some 800 on average.
    case = scenario("planned-bursts")
    case = replace(case, sensors=(case.sensors[0], FAULTY_FLYER))
    off = [abs(miscount(trial(case, seed), "f")) for seed in range(20)]
    assert np.mean(off) <= 0.8
    assert max(off) <= 3


def test_a_flyer_sensed_alone_is_counted_by_how_even_its_pace_is():
    # Measured over 80 logs: all exact; with a fixed scatter half were not.
    case = replace(scenario("steady"), sensors=(FAULTY_FLYER,))
    assert miscounted(case, range(15)) <= 1


def ticks(t_s):
    return np.floor(np.asarray(t_s) * 1e6).astype(np.int64)


def test_a_lost_line_opens_a_stretch_and_nothing_is_filled_across_it():
    f, w = np.arange(0, 40, 0.12), np.arange(0.05, 40, 1.0)
    t = np.concatenate((f, w))
    order = np.argsort(t)
    channel = np.where(order < len(f), FLYER, WHEEL).astype(np.uint8)
    whole = Rows(ticks(t[order]), channel)
    keep = np.ones(len(t), bool)
    keep[150:155] = False
    gap = Rows(whole.tick[keep], channel[keep], gap_row=np.array([150]), gap_lines=np.array([5]))
    found = condition(gap, Rig())
    assert [s.run for s in found.stretches] == [0, 0]
    assert not any(s.flyer.filled.any() or s.wheel.filled.any() for s in found.stretches)
    assert len(found.break_s) == 1
    # the same hole without a gap in the numbers was missed by the sensors, and is filled
    silent = condition(Rows(whole.tick[keep], channel[keep]), Rig())
    assert len(silent.stretches) == 1
    assert len(silent.stretches[0].flyer) == len(f)


def test_lines_that_stand_for_several_pulses_count_as_such():
    each = np.array([8, 9, 8, 8, 9, 8, 8, 9, 8, 8])
    tick = ticks(np.arange(10) + 0.4)
    rows = Rows(
        np.repeat(tick, 2) + np.tile([0, 50_000], 10),
        np.tile([FLYER, WHEEL], 10).astype(np.uint8),
        np.arange(0, 20, 2),
        each,
    )
    found = condition(rows, Rig())
    assert found.coarse == frozenset({FLYER})
    (stretch,) = found.stretches
    np.testing.assert_array_equal(stretch.flyer.passage, np.cumsum(each) - each[0])
    np.testing.assert_array_equal(found.trains[FLYER].count, each)


def test_an_empty_log_conditions_to_nothing():
    found = condition(Rows.empty(), Rig())
    assert (found.stretches, found.runs, found.duration_s) == ((), 0, 0.0)
    assert all(len(found.trains[c]) == 0 for c in (FLYER, WHEEL, ROLLER))


def test_flags_conserve_pulses():
    for name in ("faulty-sensors", "three-runs", "bad-line"):
        found = trial(scenario(name), 5)
        for channel, shaft in ((FLYER, "flyer"), (WHEEL, "wheel")):
            train = found.conditioned.trains[channel]
            filled = (train.flag & Flag.FILLED) > 0
            uncounted = (train.flag & UNCOUNTED) > 0
            passages = sum(len(getattr(s, shaft)) for s in found.conditioned.stretches)
            assert not (filled & uncounted).any()
            assert passages == int((~uncounted).sum())
