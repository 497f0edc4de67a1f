"""Where the targets sit, against angles that were put in."""

from dataclasses import replace

import numpy as np
import pytest
from tests.accuracy.trial import trial

from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.targets import Angles, angles_by_position, same_zero
from whorlpulse.pulses import FLYER, WHEEL
from whorlpulse.simulate import Foot, scenario

ANGLE = np.array([0.0, 0.30, 0.444, 0.78])


def piece(turns, start=0, noise=0.0, seed=0):
    passage = np.arange(start, start + 4 * turns)
    x = passage // 4 + ANGLE[passage % 4] + noise * np.random.default_rng(seed).standard_normal(4 * turns)
    return x, passage


def test_angles_come_out_as_they_were_put_in():
    x, passage = piece(60, noise=0.002)
    found = angles_by_position([x], [passage], 4)
    assert found.measured
    assert found.u[0] == 0
    # target 0's own noise is in each angle too: sqrt(2) * 0.002 / sqrt(60), four of them
    np.testing.assert_allclose(found.angle, ANGLE, atol=4 * 0.0028 / np.sqrt(60))
    assert (found.u[1:] < 3 * 0.0028 / np.sqrt(60)).all()


def test_one_gross_passage_moves_nothing():
    x, passage = piece(60, noise=0.002)
    x[101] += 0.12
    clean = angles_by_position([piece(60, noise=0.002)[0]], [passage], 4)
    np.testing.assert_allclose(angles_by_position([x], [passage], 4).angle, clean.angle, atol=4e-4)


def test_too_few_turns_or_too_much_scatter_are_refused():
    x, passage = piece(4)
    assert not angles_by_position([x], [passage], 4).measured
    x, passage = piece(30, noise=0.08)
    refused = angles_by_position([np.sort(x)], [passage], 4)
    assert not refused.measured
    np.testing.assert_array_equal(refused.angle, [0, 0.25, 0.5, 0.75])


def test_one_target_needs_no_measuring():
    found = angles_by_position([np.arange(9.0)], [np.arange(9)], 1)
    assert found.measured
    np.testing.assert_array_equal(found.angle, [0.0])


def test_pieces_are_turned_until_their_patterns_agree():
    first = piece(30)
    pieces, positions = [Counted.one_each(first[0])], [first[0]]
    for start in (1, 2, 3, 5):
        x, _ = piece(20, start=start)
        pieces.append(Counted.one_each(x))
        positions.append(x)
    aligned = same_zero(pieces, positions, 4)
    assert [int(c.passage[0]) % 4 for c in aligned] == [0, 1, 2, 3, 1]
    assert angles_by_position(positions, [c.passage for c in aligned], 4).angle == pytest.approx(ANGLE, abs=1e-9)


def test_turns_are_whole_and_part():
    whole, part = Angles(ANGLE, np.zeros(4), True).turns(np.array([0, 3, 4, 4_000_000_000_003]))
    np.testing.assert_array_equal(whole, [0, 0, 1, 1_000_000_000_000])
    np.testing.assert_array_equal(part, [0, 0.78, 0, 0.78])


@pytest.mark.parametrize("ripple", ["real treadling", "hard treadling"])
def test_simulated_magnets_within_a_degree(ripple):
    case = scenario("uneven-magnets")
    if ripple == "hard treadling":
        case = replace(case, foot=Foot(sharpness=2.5))
    worst = 0.0
    for seed in range(8):
        found = trial(case, seed)
        for channel, letter in ((WHEEL, "w"), (FLYER, "f")):
            angles = found.conditioned.angles[channel]
            true = np.array(found.truth.scenario.sensor(letter).angles)
            assert angles.measured
            turned = [np.sort((np.roll(true, -k) - true[k]) % 1.0) for k in range(len(true))]
            off = min(np.abs(t - angles.angle).max() for t in turned)
            worst = max(worst, float(off))
    assert worst * 360 < 1.0  # degrees; the bar of the design
