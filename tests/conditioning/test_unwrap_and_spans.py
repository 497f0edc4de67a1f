"""The unwrapped clock against the time that was put in; what ends a span."""

import numpy as np
import pytest

from whorlpulse.conditioning.spans import span_starts
from whorlpulse.conditioning.unwrap import unwrap
from whorlpulse.pulses import FLYER, KEEP_ALIVE, OVERRUN, WHEEL, Rows


def rows_at(true_tick, bits, channel=FLYER, **more):
    channels = np.full(len(true_tick), channel, np.uint8) if np.isscalar(channel) else np.asarray(channel, np.uint8)
    raw = np.asarray(true_tick, np.int64)
    return Rows(raw & ((1 << bits) - 1) if bits else raw, channels, **more)


@pytest.mark.parametrize(("bits", "hz"), [(16, 1024.0), (24, 1e6), (32, 1e6), (32, 1e9), (48, 1e10), (0, 1e6)])
def test_many_wraps_are_followed(bits, hz):
    rng = np.random.default_rng(bits)
    t = np.cumsum(rng.uniform(0.05, 1.0, 2000))
    true = np.floor(t * hz).astype(np.int64) + ((1 << bits) - int(30 * hz) if bits else 12_345)  # wraps after 30 s
    rows = rows_at(true, bits, np.where(np.arange(2000) % 3, FLYER, KEEP_ALIVE))
    found = unwrap(rows, hz, bits)
    np.testing.assert_array_equal(found.tick, true - true[0])
    assert found.usable.all()
    assert len(found.restarts) == len(found.silences) == 0
    assert not bits or true[-1] >> bits >= 1


def test_a_short_clock_that_stands_half_its_range_is_only_sure_with_keep_alives():
    # 16 bits at 1024 Hz wrap every 64 s. A pause of 40 s is more than half: without keep-alives it is still forwards.
    true = np.array([0, 1000, 1000 + 40 * 1024, 1000 + 41 * 1024])
    np.testing.assert_array_equal(unwrap(rows_at(true, 16), 1024.0, 16).tick, true)
    # A pause of 70 s wraps unseen: no clock of 64 s can know.
    unseen = np.array([0, 1000, 1000 + 70 * 1024])
    assert unwrap(rows_at(unseen, 16), 1024.0, 16).tick[-1] == unseen[-1] - 65_536


def test_a_restart_is_found_and_the_clock_goes_on():
    before, after = np.arange(50) * 100_000 + 7_000_000, np.arange(50) * 100_000
    channel = np.where(np.arange(100) % 10, FLYER, KEEP_ALIVE)
    for bits in (32, 0):
        found = unwrap(rows_at(np.concatenate((before, after)), bits, channel), 1e6, bits)
        np.testing.assert_array_equal(found.restarts, [50])
        assert found.tick[49] == found.tick[50] == 49 * 100_000
        np.testing.assert_array_equal(np.diff(found.tick)[50:], 100_000)


@pytest.mark.parametrize("bad", [3_000_000_000, 17])
def test_one_damaged_tick_is_left_out_and_nothing_else(bad):
    true = np.arange(100) * 50_000 + 1_000_000
    broken = true.copy()
    broken[40] = bad
    found = unwrap(rows_at(broken, 32), 1e6, 32)
    np.testing.assert_array_equal(np.flatnonzero(~found.usable), [40])
    assert len(found.restarts) == 0
    good = found.usable
    np.testing.assert_array_equal(found.tick[good], (true - true[0])[good])
    assert 40 in span_starts(rows_at(broken, 32), found)


def test_a_tick_beyond_the_clocks_range_is_unusable():
    found = unwrap(Rows(np.array([10, 20, 70_000, 40]), np.full(4, FLYER, np.uint8)), 1e6, 16)
    np.testing.assert_array_equal(found.usable, [True, True, False, True])
    assert found.tick[3] == 30


def test_small_disorder_between_channels_is_no_restart():
    true = np.array([0, 100_000, 99_900, 200_000, 199_990, 300_000])  # interrupts served one after another
    found = unwrap(rows_at(true, 32, [FLYER, FLYER, WHEEL, FLYER, WHEEL, FLYER]), 1e6, 32)
    np.testing.assert_array_equal(found.tick, true)
    assert len(found.restarts) == 0


def test_silence_counts_only_where_keep_alives_should_have_come():
    t = np.array([0, 1, 2, 3, 9, 10, 11]) * 1_000_000
    beats = unwrap(rows_at(t, 32, KEEP_ALIVE), 1e6, 32)
    np.testing.assert_array_equal(beats.silences, [4])
    assert len(unwrap(rows_at(t, 32, FLYER), 1e6, 32).silences) == 0


def test_nothing_unwraps_to_nothing():
    found = unwrap(Rows.empty(), 1e6, 32)
    assert len(found.tick) == len(found.usable) == len(found.restarts) == len(found.silences) == 0
    assert len(span_starts(Rows.empty(), found)) == 0


def test_every_cause_ends_a_span_once():
    t = np.arange(20) * 100_000
    t[15:] += 8_000_000  # silence before row 15
    channel = np.full(20, FLYER, np.uint8)
    channel[::2] = KEEP_ALIVE
    channel[11] = OVERRUN
    gaps = np.array([0, 3, 11, 20])  # before the first row and after the last one nothing is parted
    rows = rows_at(t, 32, channel, gap_row=gaps, gap_lines=np.array([1, 4, 2, 5]))
    found = unwrap(rows, 1e6, 32)
    np.testing.assert_array_equal(span_starts(rows, found), [3, 11, 15])


@pytest.mark.parametrize("times", [1, 2, 40])
def test_ticks_beyond_all_clocks_are_a_clock_that_began_anew(times):
    """Up to 2^63 - 1, and back, again and again: together more than 64 bits hold. What lies between still counts."""
    far = 2**63 - 1
    there_and_back = np.array([0, 1000, 2000, far - 2000, far - 1000, far])
    true = np.tile(there_and_back, times)
    found = unwrap(rows_at(true, 0), 1e6, 0)
    assert found.tick[0] == 0
    step = np.diff(found.tick)
    assert (step >= 0).all()
    assert (found.tick < 2**53).all()
    within = np.diff(true) == 1000
    np.testing.assert_array_equal(step[within], 1000)
    assert set(np.flatnonzero(np.diff(true) < 0) + 1) <= set(found.restarts.tolist())
