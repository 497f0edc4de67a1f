"""Twist: turns over length by hand, its verdicts, and simulated skeins with a soft stretch."""

from dataclasses import replace

import numpy as np
import pytest
from tests.accuracy.trial import trial

from whorlpulse.conditioning import condition
from whorlpulse.estimators.twist import Draw, NoTwist, against_plan, estimate_twist
from whorlpulse.pulses import FLYER, WHEEL, Rows
from whorlpulse.rig import Length, LengthMark, Rig
from whorlpulse.simulate import scenario

PLAN_TPM = 5.2 / 0.0254


def flyer_rows(seconds=100.0, hz=8.0, channel=FLYER, gap=None):
    tick = np.floor(np.arange(0.0, seconds, 1 / hz) * 1e6).astype(np.int64)
    none = np.empty(0, np.int64)
    at = none if gap is None else np.array([gap])
    return Rows(tick, np.full(len(tick), channel, np.uint8), gap_row=at, gap_lines=np.ones(len(at), np.int64))


def marks(*pairs):
    return tuple(LengthMark(int(t * 1e6), int(t * 8), Length(m, 0.0003)) for t, m in pairs)


def estimate(rig, window_m=0.5, **more):
    return estimate_twist(condition(flyer_rows(**more), rig), rig, window_m)


def test_each_draw_by_hand():
    # 8 turns/s: 160 turns on 0.8 m, then 80 on 0.5 m
    found = estimate(Rig(length_marks=marks((20.0, 0.8), (30.0, 0.5))))
    assert found.length_source == "marks"
    first, second = found.draws
    assert first.turns == pytest.approx(160, abs=0.6)  # up to half a turn before the first pulse
    assert second.turns == pytest.approx(80, abs=1e-6)
    assert (second.from_m, second.to_m) == (0.8, 1.3)
    assert second.tpm == pytest.approx(160.0, rel=1e-6)
    assert found.twist.value == pytest.approx(found.flyer_turns / 1.3, rel=1e-12)
    assert found.waiting_turns == pytest.approx(8 * 69.9, abs=1)
    assert found.twist.low < 240 / 1.3 < found.twist.high


def test_a_total_gives_one_twist_over_all_turns():
    found = estimate(Rig(total=Length(4.0, 0.02)))
    assert found.length_source == "total"
    assert found.twist.value == pytest.approx(200.0, rel=2e-3)
    # u(T)/T is that of the length (0.5 %) and of the ends, GUM 5.1.6
    assert found.twist.u / found.twist.value == pytest.approx(0.005, rel=0.02)
    assert found.length_share > 0.95


def test_windows_share_the_turns_out():
    found = estimate(Rig(length_marks=marks((20.0, 0.8), (30.0, 0.5), (50.0, 1.2))), window_m=0.25)
    assert [round(w.to_m - w.from_m, 9) for w in found.along] == [0.25] * 10
    turns = sum(w.tpm * (w.to_m - w.from_m) for w in found.along)
    assert turns == pytest.approx(found.flyer_turns, rel=1e-9)
    assert found.spread == pytest.approx(
        np.std([w.tpm for w in found.along], ddof=1) / np.mean([w.tpm for w in found.along])
    )
    assert estimate(Rig(length_marks=marks((20.0, 0.8)))).spread is None


def test_a_draw_in_which_lines_were_lost_is_left_out_with_its_turns():
    rig = Rig(length_marks=marks((20.0, 0.8), (30.0, 0.5), (50.0, 1.2)))
    whole, cut = estimate(rig), estimate(rig, gap=200)  # at 25 s
    assert len(cut.draws) == len(whole.draws) - 1
    assert cut.left_out_s == ((pytest.approx(20.0), pytest.approx(30.0)),)
    assert cut.length.value == pytest.approx(2.0)
    assert cut.twist.value == pytest.approx((160 + 160) / 2.0, rel=3e-3)
    assert cut.twist.u > 0


@pytest.mark.parametrize(
    ("reason", "rig", "rows"),
    [
        ("no-flyer", Rig(total=Length(1.0)), flyer_rows(channel=WHEEL)),
        ("no-flyer", Rig(total=Length(1.0)), Rows.empty()),
        ("no-length", Rig(), flyer_rows()),
        ("no-take-up", Rig(length_marks=marks((30.0, 0.5))), flyer_rows(gap=100)),
    ],
)
def test_what_is_missing_is_named(reason, rig, rows):
    with pytest.raises(NoTwist) as caught:
        estimate_twist(condition(rows, rig), rig)
    assert caught.value.reason == reason


@pytest.mark.parametrize(
    ("plan", "tolerance", "verdict"),
    [(200.0, 0.1, "on-plan"), (260.0, 0.1, "under"), (150.0, 0.1, "over"), (220.0, 0.0910, "undecided")],
)
def test_the_verdict_needs_the_whole_interval_on_one_side(plan, tolerance, verdict):
    found = estimate(Rig(total=Length(4.0, 0.02)))  # 200 ± 2
    assert against_plan(found, plan, tolerance).verdict == verdict


def draws_of(*stretches):
    made, at, t = [], 0.0, 0.0
    for length_m, tpm in stretches:
        turns = length_m * tpm
        made.append(Draw(t, t + turns / 8, at, at + length_m, turns, tpm))
        at, t = at + length_m, t + turns / 8
    return tuple(made)


def test_a_stretch_shorter_than_a_hand_can_steer_is_not_called_off():
    found = estimate(Rig(total=Length(4.0, 0.02)))
    rng = np.random.default_rng(0)
    even = [(0.5, 200 * (1 + 0.01 * rng.standard_normal())) for _ in range(20)]
    short = replace(found, draws=draws_of(*even[:9], (0.2, 110.0), *even[9:]))
    long = replace(found, draws=draws_of(*even[:9], (0.5, 110.0), (0.5, 111.0), *even[9:]))
    assert against_plan(short, 200.0, 0.1).off_plan == ()
    (stretch,) = against_plan(long, 200.0, 0.1).off_plan
    assert (stretch.verdict, stretch.from_m, stretch.to_m) == ("under", pytest.approx(4.5), pytest.approx(5.5))
    assert stretch.tpm == pytest.approx(110.5, rel=1e-3)


def test_the_soft_stretch_of_a_simulated_skein_is_found_in_its_place():
    """Truth of the simulator: 1.4 m at 3.3 tpi in a yarn of 5.2 tpi; bar of the design: both ends within 0.3 m."""
    for seed in range(12):
        found = trial(scenario("skein-soft"), seed)
        (true,) = found.truth.off_plan
        stretch, *others = against_plan(found.twist(), PLAN_TPM, 0.1).off_plan
        assert stretch.verdict == "under"
        assert stretch.from_m == pytest.approx(true.from_m, abs=0.3)
        assert stretch.to_m == pytest.approx(true.to_m, abs=0.3)
        assert stretch.tpm == pytest.approx(true.twist_tpm, rel=0.06)
        # Some logs end while the last draw winds on: what is in by then has all of the draw's turns, and is over.
        assert len(others) <= 1
        for other in others:
            assert other.from_m == pytest.approx(found.truth.along[-1].from_m, abs=0.05)
            assert other.tpm == pytest.approx(found.truth.along[-1].twist_tpm, rel=0.06)


@pytest.mark.parametrize("name", ["skein-on-plan", "skein-marks"])
def test_a_skein_on_plan_is_called_on_plan(name):
    for seed in range(12):
        found = trial(scenario(name), seed)
        verdict = against_plan(found.twist(), PLAN_TPM, 0.1)
        assert verdict.verdict == "on-plan"
        assert verdict.off_plan == ()
