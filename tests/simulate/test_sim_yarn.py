"""The yarn: turns are conserved, lengths add up, and the roller and the bobbin see the same yarn."""

import math
from dataclasses import replace

import numpy as np
import pytest

from whorlpulse.simulate import Marks, OffPlan, Yarn, scenario, simulate
from whorlpulse.simulate.yarn import planned_draws
from whorlpulse.wire import Decoder, Meta

PLAN_TPM = 5.2 / 0.0254


@pytest.mark.parametrize("name", ["skein-on-plan", "skein-soft", "continuous-take-up", "slipping-band"])
@pytest.mark.parametrize("seed", [0, 1])
def test_turns_and_metres_are_conserved(name, seed):
    truth = simulate(scenario(name), seed).truth
    end = truth.duration_s
    # every metre that lies in a draw was taken up, every turn in a draw was made by the flyer
    assert sum(d.to_m - d.from_m for d in truth.along) == pytest.approx(truth.length_m, abs=1e-9)
    assert float(truth.length_m_at(end)) == pytest.approx(truth.length_m, abs=1e-12)
    made = float(truth.flyer_turns_at(end) - truth.flyer_turns_at(0.0))
    assert sum(d.flyer_turns for d in truth.along) <= made
    assert made - truth.flyer_turns < 1.3 * 0.6 * PLAN_TPM  # less than one draw waits
    assert truth.twist_tpm == pytest.approx(truth.flyer_turns / truth.length_m, rel=1e-12)


def test_each_draw_ends_when_the_flyer_has_given_it_its_turns():
    truth = simulate(scenario("skein-on-plan"), 3).truth
    t = np.linspace(0.0, truth.duration_s, 400_001)
    turns, length = truth.flyer_turns_at(t) - truth.flyer_turns_at(0.0), truth.length_m_at(t)
    done = 0.0
    for draw in truth.along[:-1]:
        done += draw.flyer_turns
        there = int(np.searchsorted(turns, done))
        assert length[there] == pytest.approx(draw.to_m, abs=1e-4)
        assert 0.4 <= draw.to_m - draw.from_m <= 0.6


def test_draws_scatter_about_the_plan_as_set():
    draws = planned_draws(Yarn(PLAN_TPM, scatter=0.03), 8.5, 400_000.0, np.random.default_rng(5), quickest=10.0)
    twist = np.diff(draws.end, prepend=0.0) / draws.length_m
    n = len(twist)
    assert np.std(twist) / PLAN_TPM == pytest.approx(0.03, abs=4.5 * 0.03 / math.sqrt(2 * n))
    assert np.mean(twist) == pytest.approx(PLAN_TPM, rel=4.5 * 0.03 / math.sqrt(n))


def test_the_soft_stretch_lies_where_it_was_asked_for():
    yarn = Yarn(PLAN_TPM, scatter=0.0, off_plan=(OffPlan(4.0, 5.4, 3.3 / 0.0254),))
    truth = simulate(replace(scenario("skein-soft"), yarn=yarn), 8).truth
    soft = [d for d in truth.along if d.twist_tpm < 0.8 * PLAN_TPM]
    assert soft[0].from_m == pytest.approx(4.0, abs=1e-9)
    assert soft[-1].to_m == pytest.approx(5.4, abs=1e-9)
    assert {round(d.twist_tpm * 0.0254, 6) for d in soft} == {3.3}
    assert truth.off_plan == yarn.off_plan


def test_yarn_only_ever_goes_in():
    for name in ("skein-on-plan", "continuous-take-up"):
        truth = simulate(scenario(name), 1).truth
        length = truth.length_m_at(np.linspace(0.0, truth.duration_s, 100_001))
        assert np.min(np.diff(length)) >= -1e-9
        assert length[0] == 0.0


@pytest.mark.parametrize("name", ["skein-on-plan", "continuous-take-up"])
def test_the_roller_counts_the_length(name):
    truth = simulate(scenario(name), 4).truth
    # four targets on 10 cm: counted turns are short of the length by less than one target's spacing
    assert abs(len(truth.passages_s("y")) * 0.025 - truth.length_m) < 0.025 + 1e-9


def test_length_lines_tell_the_draws_to_the_centimetre():
    capture = simulate(replace(scenario("skein-marks"), marks=Marks(every_draws=2, round_m=0.01)), 6)
    lines = [m.value.split() for m in Decoder().feed(capture.log) if isinstance(m, Meta) and m.key == "length"]
    assert lines[0][1:] == ["0", "cm"]
    draws = capture.truth.along
    for k, (tick, value, unit) in enumerate(lines[1:]):
        assert unit == "cm"
        assert float(value) / 100.0 == pytest.approx(draws[2 * k + 1].to_m - draws[2 * k].from_m, abs=0.005001)
        t = (int(tick) - 20_000) / 1e6 - capture.truth.offset_s
        assert float(capture.truth.length_m_at(t)) == pytest.approx(draws[2 * k + 1].to_m, abs=1e-6)
    assert len(lines) - 1 in (len(draws) // 2, (len(draws) - 1) // 2)


def test_a_twist_too_low_for_winding_on_is_refused():
    with pytest.raises(ValueError, match="leaves no time to wind on"):
        simulate(replace(scenario("skein-on-plan"), yarn=Yarn(12.0)), 0)
