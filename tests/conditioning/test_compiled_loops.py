"""Both ways of every loop after reading, on the same numbers: the same to the last bit."""

from __future__ import annotations

from dataclasses import astuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import both_ways
from whorlpulse.conditioning import interpolate
from whorlpulse.conditioning.chain import condition
from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.conditioning.running_median import running_median_9
from whorlpulse.conditioning.unwrap import unwrap
from whorlpulse.pulses import FLYER, KEEP_ALIVE, WHEEL, Rows
from whorlpulse.rig import Rig


def each_way(work):
    """Return what `work` gives by either way."""
    found = []
    for way in both_ways.WAYS:
        with both_ways.taken(way):
            found.append(work())
    return found


@given(st.integers(0, 2**32), st.integers(0, 3000), st.booleans())
@settings(max_examples=60, deadline=None)
def test_medians(seed, n, few_values):
    rng = np.random.default_rng(seed)
    x = rng.integers(0, 4, n).astype(float) if few_values else rng.standard_normal(n)
    one, other = each_way(lambda: running_median_9(x))
    np.testing.assert_array_equal(one, other)


@given(st.integers(0, 2**32), st.integers(65, 700), st.integers(1, 400), st.booleans())
@settings(max_examples=60, deadline=None)
def test_curves(seed, knots, places, whole):
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.lognormal(0.0, 1.0, knots))
    y = np.arange(knots) if whole else np.cumsum(rng.integers(0, 3, knots) * rng.random(knots))
    at = np.sort(np.concatenate((rng.uniform(x[0] - 1.0, x[-1] + 1.0, places), x[::5], x[-1:])))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(interpolate, "_BLOCK", 64)
        one, other = each_way(lambda: monotone_cubic(x, y, at))
    np.testing.assert_array_equal(one, other)
    assert np.isnan(one[at > x[-1]]).all()
    on_knots = np.isin(at, x)
    np.testing.assert_allclose(one[on_knots], y[np.searchsorted(x, at[on_knots])], rtol=1e-12, atol=1e-12)


def ticks(seed: int, n: int, bits: int, faults: int) -> Rows:
    """Return rows of a clock that wraps, with so many ticks out of place, back, ahead or beyond the clock's range."""
    rng = np.random.default_rng(seed)
    tick = np.cumsum(rng.integers(0, 40_000, n)) + rng.integers(0, 1 << 40)
    tick[rng.integers(0, n, faults)] += rng.choice([-30_000, 10_000, 5_000_000, -(1 << 20)], faults)
    raw = tick & ((1 << bits) - 1) if bits else np.abs(tick)
    raw[rng.integers(0, n, faults // 3)] += 1 << 33
    channel = rng.choice(np.frombuffer(b"wffffk", np.uint8), n)
    return Rows(raw, channel)


@given(st.integers(0, 2**32), st.integers(1, 900), st.sampled_from([0, 16, 24, 32]), st.sampled_from([0, 0, 1, 6]))
@settings(max_examples=100, deadline=None)
def test_clocks(seed, n, bits, faults):
    rows = ticks(seed, n, bits, faults)
    one, other = each_way(lambda: astuple(unwrap(rows, 1e6, bits)))
    for a, b in zip(one, other, strict=True):
        np.testing.assert_array_equal(a, b)


@given(st.integers(0, 2**32), st.sampled_from([1, 4]), st.sampled_from([0.0, 0.01]), st.booleans())
@settings(max_examples=15, deadline=None)
def test_whole_logs(seed, targets, missed, gap):
    """A treadled wheel and its flyer, with pulses missed and a line lost or not: passages, flags and angles."""
    rng = np.random.default_rng(seed)
    turned = np.arange(0.0, 120.0, 0.02)
    seconds = turned + 0.1 / (2 * np.pi) * np.sin(2 * np.pi * turned)
    wheel = np.interp(np.arange(1, 119 * targets) / targets, turned, seconds)
    flyer = np.interp(np.arange(1, 990) / 8.37, turned, seconds)
    flyer = flyer[rng.random(len(flyer)) >= missed] + 3e-5 * rng.standard_normal()
    alive = np.arange(0.5, 119.0)
    at = np.concatenate((wheel, flyer, alive))
    letter = np.repeat(np.array([WHEEL, FLYER, KEEP_ALIVE], np.uint8), [len(wheel), len(flyer), len(alive)])
    order = np.argsort(at, kind="stable")
    tick = np.floor(at[order] * 1e6).astype(np.int64) & 0xFFFFFF
    lost = (np.array([700]), np.array([2])) if gap else (np.empty(0, np.int64), np.empty(0, np.int64))
    rows = Rows(tick, letter[order], gap_row=lost[0], gap_lines=lost[1])
    rig = Rig(tick_hz=1e6, tick_bits=24, targets={"w": targets, "f": 1, "b": 1, "y": 1})
    one, other = each_way(lambda: condition(rows, rig))
    for shaft in (WHEEL, FLYER):
        for name in ("tick", "flag"):
            np.testing.assert_array_equal(getattr(one.trains[shaft], name), getattr(other.trains[shaft], name))
        np.testing.assert_array_equal(one.angles[shaft].angle, other.angles[shaft].angle)
    assert len(one.stretches) == len(other.stretches) > 0
    for a, b in zip(one.stretches, other.stretches, strict=True):
        np.testing.assert_array_equal(a.flyer.t_s, b.flyer.t_s)
        np.testing.assert_array_equal(a.wheel.passage, b.wheel.passage)
