"""Whatever the rows: no exception, no warning, no pulse lost from the books, the same answer on any clock."""

from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.accuracy.trial import trial

from whorlpulse.conditioning import Conditioned, condition
from whorlpulse.estimators.ratio import RatioEstimate, estimate_ratio
from whorlpulse.estimators.twist import NoTwist, against_plan, estimate_twist
from whorlpulse.logfile import LogReader
from whorlpulse.pulses import FLYER, KEEP_ALIVE, OVERRUN, ROLLER, SHAFTS, UNCOUNTED, WHEEL, Flag, Rows
from whorlpulse.rig import Length, LengthMark, Rig
from whorlpulse.simulate import scenario

LETTERS = np.frombuffer(b"wfbykx", np.uint8)


@st.composite
def any_rows(draw):
    """Rows of any kind: pure noise, or turning shafts with damage, and sparse counts and gaps."""
    n = draw(st.integers(0, 400))
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    hz = draw(st.sampled_from([1.0, 10.0, 1024.0, 1e6, 1e9, 1e10]))
    bits = draw(st.sampled_from([0, 1, 8, 16, 24, 32, 48, 62]))
    kind = draw(st.sampled_from(["noise", "turning", "spun", "bursts", "still"]))
    if kind == "noise":
        tick = rng.integers(0, 2 ** draw(st.integers(1, 62)), n)
        channel = rng.choice(LETTERS, n)
    else:
        turning = rng.uniform(0.01, 0.4, n) if kind == "bursts" else np.full(n, 0.05)
        turning[rng.random(n) < 0.02] *= rng.choice([0.0, 40.0, 4000.0]) if kind == "bursts" else 2.0
        tick = np.floor(np.cumsum(turning) * hz).astype(np.int64) if kind != "still" else np.zeros(n, np.int64)
        channel = rng.choice(LETTERS[: draw(st.integers(1, 6))], n)
        if kind == "spun":
            channel = np.where(np.arange(n) % draw(st.integers(4, 12)) == 3, WHEEL, FLYER)
    if bits:
        tick = tick & ((1 << bits) - 1) if draw(st.booleans()) else tick
    some = np.sort(rng.choice(n, min(n, draw(st.integers(0, 6))), replace=False)) if n else np.empty(0, np.int64)
    gaps = np.sort(rng.choice(n + 1, min(n + 1, draw(st.integers(0, 5))), replace=False))
    rows = Rows(
        np.asarray(tick, np.int64),
        np.asarray(channel, np.uint8),
        np.asarray(some, np.int64),
        rng.integers(2, 10**9, len(some)),
        np.asarray(gaps, np.int64),
        rng.integers(0, 60_000, len(gaps)),
    )
    targets = {letter: draw(st.integers(1, 8)) for letter in "wfby"}
    marks = tuple(LengthMark(int(t), int(t) % (n + 1), Length(0.5, 0.003)) for t in rng.integers(0, 2**40, 3))
    return rows, Rig(hz, bits, targets, roller=Length(0.1, 1e-4), length_marks=marks if draw(st.booleans()) else ())


def books_balance(rows: Rows, found: Conditioned) -> None:
    for letter in SHAFTS:
        train = found.trains[letter]
        filled = (train.flag & Flag.FILLED) > 0
        reported = int(((rows.channel == letter) & found.clocked.usable).sum())
        assert int((~filled).sum()) == reported
        assert not (filled & ((train.flag & UNCOUNTED) > 0)).any()
        assert (np.diff(train.tick) >= 0).all()
    for stretch in found.stretches:
        for counted in (stretch.flyer, stretch.wheel):
            assert (np.diff(counted.t_s) >= 0).all()
            assert (np.diff(counted.passage) >= 0).all()


def finite(estimate: RatioEstimate) -> None:
    for said in [r.ratio for r in estimate.runs] + ([estimate.ratio] if estimate.ratio else []):
        assert np.isfinite([said.value, said.u, said.half_width]).all()
        assert said.low <= said.value <= said.high


@settings(max_examples=250, deadline=None)
@given(any_rows())
def test_any_rows_go_through(drawn):
    rows, rig = drawn
    found = condition(rows, rig)
    books_balance(rows, found)
    finite(estimate_ratio(found, rig.tick_hz))
    for with_total in (rig, replace(rig, total=Length(3.0, 0.01))):
        try:
            twist = estimate_twist(found, with_total)
        except NoTwist:  # an answer; anything else would be a fault
            continue
        assert np.isfinite([twist.twist.value, twist.twist.u, twist.waiting_turns]).all()
        against_plan(twist, 200.0, 0.1)


@lru_cache
def sound(name: str, seed: int):
    found = trial(scenario(name), seed)
    reader = LogReader()
    reader.feed(found.capture.log)
    return reader.finish().rows, found.rig, found.capture.log


NAMES = st.sampled_from(["faulty-sensors", "bad-line", "three-runs", "uneven-magnets", "skein-soft"])


@settings(max_examples=20, deadline=None)
@given(NAMES, st.integers(0, 3), st.integers(0, 2**31))
def test_a_later_start_of_the_clock_changes_nothing(name, seed, later):
    rows, rig, _ = sound(name, seed)
    first = condition(rows, rig)
    again = condition(replace(rows, tick=(rows.tick + later) & ((1 << rig.tick_bits) - 1)), rig)
    for letter in SHAFTS:
        np.testing.assert_array_equal(first.trains[letter].tick, again.trains[letter].tick)
        np.testing.assert_array_equal(first.trains[letter].flag, again.trains[letter].flag)
    assert estimate_ratio(first, rig.tick_hz) == estimate_ratio(again, rig.tick_hz)


@settings(max_examples=20, deadline=None)
@given(NAMES, st.integers(0, 3), st.integers(1, 7))
def test_a_clock_twice_as_fast_gives_the_same_ratio(name, seed, times):
    rows, rig, _ = sound(name, seed)
    faster = replace(rig, tick_hz=rig.tick_hz * times, tick_bits=0)
    wide = replace(rig, tick_bits=0)
    unwrapped = np.unwrap(rows.tick.astype(float), period=float(1 << rig.tick_bits)).astype(np.int64)
    one = estimate_ratio(condition(replace(rows, tick=unwrapped), wide), wide.tick_hz)
    other = estimate_ratio(condition(replace(rows, tick=unwrapped * times), faster), faster.tick_hz)
    assert len(one.runs) == len(other.runs)
    # the same times; only what the clock's step allows as the least noise differs
    assert other.ratio.value == pytest.approx(one.ratio.value, rel=1e-7)


@settings(max_examples=20, deadline=None)
@given(NAMES, st.integers(0, 3), st.integers(0, 2**32))
def test_the_order_of_lines_of_one_tick_does_not_matter(name, seed, shuffle):
    """Channels may be listed in any order where their pulses coincide, within the lines' own disorder."""
    rows, rig, _ = sound(name, seed)
    rng = np.random.default_rng(shuffle)
    # move single lines of another channel past their neighbour where both lie within 5 ms of each other
    order = np.arange(len(rows))
    near = (np.abs(np.diff(rows.tick)) < 5000) & (rows.channel[1:] != rows.channel[:-1])
    near &= ~np.isin(np.arange(1, len(rows)), rows.gap_row)
    for i in np.flatnonzero(near & (rng.random(len(near)) < 0.5)).tolist():
        if order[i] == i and order[i + 1] == i + 1:
            order[[i, i + 1]] = order[[i + 1, i]]
    shuffled = replace(rows, tick=rows.tick[order], channel=rows.channel[order])
    one, other = (estimate_ratio(condition(r, rig), rig.tick_hz) for r in (rows, shuffled))
    assert other.ratio == one.ratio


@settings(max_examples=25, deadline=None)
@given(NAMES, st.integers(0, 3), st.lists(st.integers(0, 2**20), max_size=12))
def test_splitting_the_bytes_anywhere_changes_nothing(name, seed, cuts):
    rows, rig, log = sound(name, seed)
    reader = LogReader()
    edges = sorted({0, len(log), *(c % len(log) for c in cuts)})
    for a, b in pairwise(edges):
        reader.feed(log[a:b])
    again = reader.finish().rows
    for one, other in ((rows.tick, again.tick), (rows.channel, again.channel), (rows.gap_row, again.gap_row)):
        np.testing.assert_array_equal(one, other)
    assert estimate_ratio(condition(again, rig), rig.tick_hz) == estimate_ratio(condition(rows, rig), rig.tick_hz)


def test_the_other_channels_leave_the_ratio_alone():
    rows, rig, _ = sound("skein-soft", 1)
    alone = np.isin(rows.channel, [FLYER, WHEEL, KEEP_ALIVE, OVERRUN])
    assert (rows.channel == ROLLER).any()
    kept = Rows(rows.tick[alone], rows.channel[alone])
    whole, part = (estimate_ratio(condition(r, rig), rig.tick_hz) for r in (rows, kept))
    assert whole.ratio.value == pytest.approx(part.ratio.value, rel=1e-12)
