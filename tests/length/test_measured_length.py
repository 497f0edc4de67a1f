"""Length from roller, marks and total: made by hand, then against the simulator's yarn."""

from dataclasses import replace

import numpy as np
import pytest
from tests.accuracy.trial import trial

from whorlpulse.conditioning import condition
from whorlpulse.length import mark_time, measured_length
from whorlpulse.pulses import FLYER, ROLLER, Rows
from whorlpulse.rig import Length, LengthMark, Rig
from whorlpulse.simulate import scenario

TARGETS = {"w": 1, "f": 1, "b": 1, "y": 4}
ROLL = Length(0.10, 0.00003)


def conditioned(rig, roller_s=(), seconds=60.0, gap_row=()):
    f = np.arange(0.2, seconds, 0.12)
    t = np.concatenate((f, np.asarray(roller_s, float)))
    channel = np.concatenate((np.full(len(f), FLYER), np.full(len(roller_s), ROLLER))).astype(np.uint8)
    order = np.argsort(t, kind="stable")
    gaps = np.array(gap_row, np.int64)
    tick = np.floor(t[order] * rig.tick_hz).astype(np.int64)
    return condition(Rows(tick, channel[order], gap_row=gaps, gap_lines=np.ones(len(gaps), np.int64)), rig)


def draws(number=8, pulses=20, every_s=7.0, quick_s=0.05):
    return np.concatenate([every_s * k + 5.0 + quick_s * np.arange(pulses) for k in range(number)])


def test_a_roller_that_rests_parts_the_draws():
    rig = Rig(targets=TARGETS, roller=ROLL)
    found = measured_length(conditioned(rig, draws()), rig)
    assert (found.source, len(found.pieces)) == ("roller", 8)
    # 20 pulses of a quarter turn of 10 cm a draw
    np.testing.assert_allclose([p.length_m for p in found.pieces], 0.5)
    assert found.total_m == pytest.approx(4.0)
    # its circumference, and one gap at each end: 25 mm / sqrt(6) (GUM 4.3.9, triangular)
    assert found.u_m == pytest.approx(np.hypot(4.0 * 3e-4, 0.025 / np.sqrt(6)), rel=1e-6)
    ends = np.array([p.end_s for p in found.pieces])
    np.testing.assert_allclose(ends, 5.95 + 7.0 * np.arange(8) + 0.025 - 0.2, atol=0.03)
    assert all(a.end_s == b.start_s for a, b in zip(found.pieces[:-1], found.pieces[1:], strict=True))


def test_a_roller_that_never_rests_is_one_take_up_in_many_pieces():
    rig = Rig(targets=TARGETS, roller=ROLL)
    found = measured_length(conditioned(rig, np.arange(3.0, 57.0, 0.3)), rig)
    assert found.end_gap_m == 0.0
    assert found.total_m == pytest.approx(0.025 * 180, abs=0.026)


def test_one_single_draw_is_no_roller_that_never_rests():
    # twenty pulses at the end of half a minute of twisting: the turns before it belong to its yarn
    rig = Rig(targets=TARGETS, roller=ROLL)
    found = measured_length(conditioned(rig, 35.0 + 0.05 * np.arange(20)), rig)
    assert found.pieces[0].start_s < 0.2
    assert found.total_m == pytest.approx(0.5)


def mark(rig, t_s, length_m, row=0, u=0.0003):
    return LengthMark(int(t_s * rig.tick_hz) + 200_000, row, Length(length_m, u))  # the log's first tick is 200000


def test_marks_share_the_yarn_out_and_a_zero_starts_the_count():
    rig = Rig()
    rig = replace(
        rig, length_marks=tuple(mark(rig, t, m) for t, m in ((9.0, 0.4), (20.0, 0.0), (30.0, 0.5), (41.0, 0.55)))
    )
    found = measured_length(conditioned(rig), rig)
    assert found.source == "marks"
    assert [(round(p.start_s, 6), round(p.end_s, 6), p.length_m) for p in found.pieces] == [
        (20.0, 30.0, 0.5),
        (30.0, 41.0, 0.55),
    ]
    assert found.u_m == pytest.approx(0.0003 * np.sqrt(2))


def test_a_total_beats_the_roller_and_the_roller_the_marks():
    rig = Rig(targets=TARGETS, roller=ROLL, total=Length(5.0, 0.01))
    rig = replace(rig, length_marks=(mark(rig, 30.0, 0.4),))
    log = conditioned(rig, draws())
    assert measured_length(log, rig).source == "total"
    assert measured_length(log, replace(rig, total=None)).source == "roller"
    assert measured_length(log, replace(rig, total=None, roller=None)).source == "marks"
    assert measured_length(log, replace(rig, total=None, roller=None, length_marks=())) is None


def test_a_marks_wrapped_tick_is_the_one_near_its_line():
    # 16 bits at 1024 Hz wrap every 64 s; rows run to 300 s
    rig = Rig(tick_hz=1024.0, tick_bits=16)
    tick = np.floor(np.arange(0, 300, 0.25) * 1024).astype(np.int64)
    log = condition(Rows(tick & 0xFFFF, np.full(len(tick), FLYER, np.uint8)), rig)
    for true_s in (10.0, 63.5, 64.5, 150.0, 299.0):
        row = int(true_s / 0.25)
        raw = int(true_s * 1024) & 0xFFFF
        assert mark_time(log, rig, LengthMark(raw, row, Length(0.1))) == pytest.approx(true_s, abs=1e-9)


def test_lost_lines_keep_their_yarn_out():
    rig = Rig(targets=TARGETS, roller=ROLL)
    whole = measured_length(conditioned(rig, draws()), rig)
    cut = conditioned(rig, draws(), gap_row=[300])
    found = measured_length(cut, rig)
    assert found.total_m < whole.total_m
    assert found.total_m >= whole.total_m - 1.05  # the draw in which lines were lost, and the one begun before
    assert found.u_m > whole.u_m


@pytest.mark.parametrize(
    ("name", "source"), [("skein-on-plan", "roller"), ("skein-soft", "roller"), ("skein-marks", "marks")]
)
def test_simulated_yarn_is_as_long_as_it_was(name, source):
    off = []
    for seed in range(8):
        found = trial(scenario(name), seed)
        yarn = measured_length(found.conditioned, found.rig)
        assert yarn.source == source
        true = float(found.truth.length_m_at(yarn.pieces[-1].end_s))
        off.append((yarn.total_m - true) / yarn.u_m)
    # eight errors over their standard uncertainty: chi squared with 8 degrees of freedom is below 26.1 with p = 0.999
    assert np.square(off).sum() < 26.1
