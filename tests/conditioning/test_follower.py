"""The lagging shaft counted against the leading one: made by hand, then simulated wheels of all three tensions."""

from dataclasses import replace

import numpy as np
import pytest
from tests.accuracy.trial import trial

from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.follower import bobbin_leads, count_lagging
from whorlpulse.pulses import BOBBIN, FLYER, Flag
from whorlpulse.simulate import Sensor, scenario

GAP_S = 0.125
LEADER = Counted.one_each(GAP_S * np.arange(400.0))


def lagging_s(turns_per_passage):
    """Times at which the lagging shaft passes when the leader makes so many turns for each of its own."""
    return GAP_S * (10.3 + np.concatenate([[0.0], np.cumsum(turns_per_passage)]))


STILL = np.ones(60)
#: Yarn winds on over a few passages.
WINDING = np.concatenate([STILL, [1.2, 2.6, 3.4, 1.7], STILL])


def counted(t):
    return count_lagging(LEADER, t, 1, 1)


def test_winding_on_is_no_missed_pulse():
    found = counted(lagging_s(WINDING))
    assert not found.flag.any()
    assert not found.counted.filled.any()


def test_even_a_winding_on_of_just_whole_turns_is_left_alone():
    found = counted(lagging_s(np.concatenate([STILL, [1.4, 2.0, 1.3], STILL])))
    assert not found.counted.filled.any()


@pytest.mark.parametrize("gone", [[30], [20, 21], [20, 22], [90]])
def test_missed_pulses_are_put_in(gone):
    whole = lagging_s(WINDING)
    found = counted(np.delete(whole, gone))
    assert len(found.counted) == len(whole)
    np.testing.assert_allclose(found.counted.t_s[gone], whole[gone], atol=1e-6)
    assert found.counted.filled[gone].all()


@pytest.mark.parametrize("part", [0.3, 0.5])
def test_a_pulse_where_no_target_passed_is_left_out(part):
    whole = lagging_s(WINDING)
    extra = whole[30] + part * GAP_S
    found = counted(np.sort(np.append(whole, extra)))
    np.testing.assert_allclose(found.counted.t_s, whole)
    assert found.flag[31] == Flag.EXTRA


def test_a_pulse_that_the_leader_missed_costs_the_lagging_shaft_none():
    leader = Counted.one_each(np.delete(LEADER.t_s, 50))
    whole = lagging_s(STILL)
    assert len(count_lagging(leader, whole, 1, 1).counted) == len(whole)


@pytest.mark.parametrize("name", ["skein-on-plan", "filling-bobbin", "irish-skein", "double-drive-skein"])
def test_every_passage_of_a_sound_wheel_is_counted_and_no_other(name):
    case = replace(scenario(name), sensors=(Sensor("w", (0.0, 0.25, 0.5, 0.75)), Sensor("f"), Sensor("b")), roller=None)
    for seed in range(8):
        found = trial(case, seed)
        assert found.conditioned.bobbin_leads == (case.tension != "scotch")
        (stretch,) = found.conditioned.stretches
        for letter, shaft in (("f", stretch.flyer), ("b", stretch.bobbin)):
            true = found.truth.passages_s(letter)
            true = true[(true > shaft.t_s[0] - 0.01) & (true < shaft.t_s[-1] + 0.01)]
            assert len(shaft) == len(true), (name, seed, letter)
            np.testing.assert_allclose(shaft.t_s, true, atol=2e-4)


def test_which_shaft_leads_shows_in_the_pulses_whatever_the_file_says():
    for name in ("skein-on-plan", "irish-skein"):
        case = replace(scenario(name), sensors=(Sensor("w"), Sensor("f", missed=0.03), Sensor("b", missed=0.01)))
        log = trial(replace(case, roller=None), 3).conditioned
        trains = [log.trains[c] for c in (FLYER, BOBBIN)]
        flyer, bobbin = (t.tick[t.flag & Flag.FILLED == 0] / log.tick_hz for t in trains)
        for tension in ("scotch", "irish"):
            assert bobbin_leads(flyer, bobbin, 1, 1, tension) == (name == "irish-skein")


def test_where_nothing_was_wound_the_tension_tells():
    t = GAP_S * np.arange(100.0)
    assert bobbin_leads(t, t + 0.01, 1, 1, "irish")
    assert not bobbin_leads(t, t + 0.01, 1, 1, "scotch")


def test_most_faults_of_both_sensors_are_mended():
    """3 % missed, 2 % doubled on flyer and bobbin, ten logs: what is left stems from within the winding-on."""
    off = []
    for seed in range(10):
        faulty = (Sensor("w"), *(Sensor(c, missed=0.03, doubled=0.02) for c in "fb"))
        found = trial(replace(scenario("filling-bobbin"), sensors=faulty), seed)
        (stretch,) = found.conditioned.stretches
        true = found.truth.passages_s("b")
        inside = (true > stretch.bobbin.t_s[0] - 0.01) & (true < stretch.bobbin.t_s[-1] + 0.01)
        off.append(len(stretch.bobbin) - int(inside.sum()))
    # some 80 faults a log; those beside and within the winding-on, some 200 passages, stay: 3 % of them are 6
    assert max(abs(x) for x in off) <= 12
    assert np.mean(np.abs(off)) < 7
