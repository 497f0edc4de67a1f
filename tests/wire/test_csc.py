"""The CSC measurement against bytes that others published, and the rules of its counts and times.

Layout: Bluetooth SIG, GATT Specification Supplement, Cycling Speed and Cadence Measurement; rules: Cycling Speed
and Cadence Service 1.0, section 3.1.1.2. The source of each vector stands beside it.
"""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from whorlpulse.wire.csc.counts import (
    TICKS_PER_S,
    Count,
    EventClock,
    Malformed,
    Measurement,
    Restarted,
    ShaftCount,
    Still,
    Turned,
    Unplaced,
    decode,
)

VECTORS = [
    # tests of the package pycycling 0.4.1
    ("03 ffffffff 033f ff07 e70f", Count(4294967295, 16131), Count(2047, 4071)),
    # a real sensor: Stack Overflow 49644523 and 49813704
    ("03 6d010000 fc7e 2c01 f87e", Count(365, 32508), Count(300, 32504)),
    # five frames of 60 turns a minute: nkolban/esp32-snippets, issue 844 (first and last)
    ("02 0100 0004", None, Count(1, 1024)),
    ("02 0500 0014", None, Count(5, 5120)),
    # bytes of the nRF Toolbox's CSCDataParserTest; values worked out here from the layout
    ("01 0a000000 a000", Count(10, 160), None),
    # Stack Overflow 71235792, an answer: 4 turns, 5.84 s
    ("02 0400 5e17", None, Count(4, 5982)),
    # the same page: bytes published, values worked out here
    ("02 c400 5e07", None, Count(196, 1886)),
    # values of the bluetooth-sig-python tests, bytes by their packing
    ("03 40e20100 0028 4101 0008", Count(123456, 10240), Count(321, 2048)),
    ("01 50c30000 0014", Count(50000, 5120), None),
    # worked out here: nothing present; reserved flag bits and bytes after the last field are ignored
    ("00", None, None),
    ("fd 01000000 0200 0304", Count(1, 2), None),
]


@pytest.mark.parametrize(("text", "wheel", "crank"), VECTORS)
def test_published_bytes(text: str, wheel: Count | None, crank: Count | None) -> None:
    assert decode(bytes.fromhex(text)) == Measurement(wheel, crank)


@pytest.mark.parametrize("text", ["", "01", "01 0a0000", "01 0a000000 a0", "02 0100 00", "03 0a000000 a000 0100 00"])
def test_what_is_too_short_says_so(text: str) -> None:
    assert isinstance(decode(bytes.fromhex(text)), Malformed)


@given(st.binary(max_size=40))
def test_any_bytes_are_safe(payload: bytes) -> None:
    assert isinstance(decode(payload), Measurement | Malformed)


def followed(frames: list[tuple[int, int, float]], *, crank: bool) -> list[object]:
    shaft = ShaftCount(EventClock(), crank=crank)
    return [shaft.follow(Count(n, event), host_s) for n, event, host_s in frames]


def test_published_rates_between_two_frames() -> None:
    """nRF Toolbox test: 5 turns at 150, 6 at 200 is 1228.8 a minute; the roll-over of both is worked out here."""
    for before, after, per_minute in [((5, 150), (6, 200), 1228.8), ((65535, 65024), (1, 0), 240.0)]:
        base = ((before[0] - 1) % 65536, (before[1] - 500) % 65536, 0.0)
        steps = followed([base, (*before, 1.0), (*after, 1.3)], crank=True)
        first, second = steps[1], steps[2]
        assert isinstance(first, Turned)
        assert isinstance(second, Turned)
        minutes = (second.event_ticks - first.event_ticks) / TICKS_PER_S / 60
        assert second.revolutions / minutes == pytest.approx(per_minute)


def test_a_standing_sensor_turns_nothing() -> None:
    assert followed([(7, 100, 0.0), (7, 100, 1.0), (7, 100, 2.0)], crank=False) == [Still()] * 3


def test_a_smaller_wheel_count_is_a_new_start_and_not_four_thousand_million_turns() -> None:
    steps = followed([(1000, 0, 0.0), (1001, 1024, 1.0), (0, 0, 2.0), (1, 900, 3.0), (2, 1900, 4.0)], crank=False)
    assert steps[1] == Turned(1, 1024)
    assert isinstance(steps[2], Restarted)
    assert steps[3] == Turned(1, 900)
    assert steps[4] == Turned(1, 1900)


def test_a_wheel_rolled_back_by_hand_keeps_the_sensors_clock() -> None:
    clock = EventClock()
    shaft = ShaftCount(clock, crank=False)
    steps = [
        shaft.follow(Count(n, e), t) for n, e, t in [(10, 0, 0.0), (11, 1024, 1.0), (9, 2048, 2.0), (10, 3072, 3.0)]
    ]
    assert isinstance(steps[2], Restarted)
    assert steps[3] == Turned(1, 3072)
    assert clock.epoch == 0


@pytest.mark.parametrize("pause_s", [0.5, 40.0, 63.5, 64.0, 64.5, 200.0, 3600.0])
def test_times_modulo_64_seconds_are_told_apart_while_the_link_is_up(pause_s: float) -> None:
    """The wheel stands for a while and turns on; notifications keep coming once a second."""
    shaft = ShaftCount(EventClock(), crank=False)
    shaft.follow(Count(0, 0), 0.0)
    assert shaft.follow(Count(1, 512), 1.0) == Turned(1, 512)
    t = 1.0
    while t + 1.0 < pause_s:
        t += 1.0
        assert shaft.follow(Count(1, 512), t) == Still()
    event = 512 + round(pause_s * TICKS_PER_S)
    assert shaft.follow(Count(2, event % 65536), 0.5 + pause_s + 0.2) == Turned(1, event)


def test_a_gap_in_the_link_keeps_the_count_and_within_a_minute_the_time() -> None:
    steps = followed([(5, 0, 0.0), (6, 1024, 1.0), (36, 31 * 1024, 31.5), (37, 32 * 1024, 32.1)], crank=False)
    assert steps[2] == Turned(30, 31 * 1024)
    late = followed(
        [(5, 0, 0.0), (6, 1024, 1.0), (90, 80 * 1024 % 65536, 91.0), (92, 93 * 1024 % 65536, 93.2)], crank=False
    )
    assert isinstance(late[2], Unplaced)
    assert late[3] == Turned(86, 93 * 1024)


def test_an_event_that_was_told_of_late_does_not_set_the_clock_back() -> None:
    """The link was down from 2 to 40 s; five turns were made by 5 s, and the next one at 44 s."""
    steps = followed([(5, 0, 0.0), (6, 1024, 1.0), (11, 5 * 1024, 40.1), (12, 44 * 1024, 44.3)], crank=False)
    assert steps[2:] == [Turned(5, 5 * 1024), Turned(1, 44 * 1024)]


def test_what_cannot_be_is_not_believed_and_not_lost() -> None:
    steps = followed([(0, 0, 0.0), (1, 1024, 1.0), (2, 1024, 1.5), (3, 900, 2.0), (4, 3072, 3.1)], crank=False)
    assert isinstance(steps[2], Unplaced)
    assert "its time did not" in steps[2].why
    assert isinstance(steps[3], Unplaced)
    assert "backwards" in steps[3].why
    assert steps[4] == Turned(3, 3072)
    wild = followed([(0, 0, 0.0), (1, 1024, 1.0), (5000, 2048, 2.0), (5001, 3072, 3.0), (5002, 4096, 4.0)], crank=False)
    assert [type(step) for step in wild[2:]] == [Unplaced, Unplaced, Restarted]


def test_a_new_start_of_one_count_is_one_of_the_sensors_clock() -> None:
    clock = EventClock()
    wheel, crank = ShaftCount(clock, crank=False), ShaftCount(clock, crank=True)
    for n in range(3):
        wheel.follow(Count(100 + n, 1024 * n), float(n))
        crank.follow(Count(100 + n, 1024 * n), float(n))
    assert isinstance(wheel.follow(Count(0, 0), 3.0), Restarted)
    assert isinstance(crank.follow(Count(0, 0), 3.0), Restarted)
    assert wheel.follow(Count(1, 700), 4.0) == Turned(1, 700)
    assert crank.follow(Count(1, 800), 4.0) == Turned(1, 800)
    assert clock.epoch == 1


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.booleans(), st.integers(0, 65535), st.integers(0, 65535))
def test_counts_and_times_come_back_whatever_rolls_over(number: int, crank: bool, count_at: int, time_at: int) -> None:
    """A shaft of wandering speed with stops, its counter and clock started anywhere, its clock off by 500 ppm."""
    r = random.Random(number)
    rate = 1 + r.uniform(-500e-6, 500e-6)
    t, passages = 0.0, []
    while t < 400:
        t += r.uniform(0.05, 1.2) if r.random() < 0.97 else r.uniform(5, 55)
        passages.append(t)
    shaft, told, last = ShaftCount(EventClock(), crank=crank), 0, None
    send, done = 0.0, 0
    while send < 400:
        send += 1.0
        done = sum(p <= send for p in passages)
        if not done:
            continue
        ticks = time_at + int(passages[done - 1] * rate * TICKS_PER_S)
        count = Count((count_at + done) % 65536 if crank else count_at + done, ticks % 65536)
        step = shaft.follow(count, send + r.expovariate(1 / 0.05))
        assert isinstance(step, Still | Turned)
        if isinstance(step, Turned):
            first = (done - step.revolutions, ticks - step.event_ticks) if last is None else last
            told += step.revolutions
            assert (done - told, ticks - step.event_ticks) == first
            last = first
