"""Notifications of simulated sensors to pulse lines: against the simulated shafts' own turns and times."""

from __future__ import annotations

import functools
import itertools
import re
import struct

import numpy as np
import pytest
from csc_truth import Sensor, Sent, wheel_and_flyer

from whorlpulse.conditioning.chain import condition
from whorlpulse.estimators.ratio import estimate_ratio
from whorlpulse.logfile import read_log
from whorlpulse.rig import Rig
from whorlpulse.wire import Damaged, Decoder, Meta, Pulse
from whorlpulse.wire.csc.again import csc_events, same_lines, tied_afterwards
from whorlpulse.wire.csc.lines import CscLines, Frame, Silence

HOST_S = 1_700_000_000.0
SECONDS = 180.0
SHAFTS = functools.lru_cache(wheel_and_flyer)


def two_sensors(seed: int, pace_s: float, mean_s: float) -> list[tuple[str, Sent]]:
    wheel, flyer = SHAFTS(seed, SECONDS)
    on_wheel = Sensor(+100.0, 5_000, 7, pace_s, mean_s=mean_s)
    on_flyer = Sensor(-100.0, 60_000, 70_000, pace_s, mean_s=mean_s)
    sent = [("w", s) for s in on_wheel.sends(wheel, SECONDS, seed + 10)]
    sent += [("f", s) for s in on_flyer.sends(flyer, SECONDS, seed + 20)]
    return sorted(sent, key=lambda pair: pair[1].arrival_s)


def frames(sent: list[tuple[str, Sent]]) -> list[Frame]:
    return [Frame(round(HOST_S + s.arrival_s, 6), role, s.payload) for role, s in sent]


def errors(data: bytes, sent: list[tuple[str, Sent]], times: dict[str, list[float]]) -> dict[str, np.ndarray]:
    """How late each pulse line stands, in seconds, by channel; the lines' order and counts are checked here."""
    decoder = Decoder()
    messages = decoder.feed(data)
    assert not [m for m in messages if isinstance(m, Damaged)]
    (at, tick), *_ = (m.value.split() for m in messages if isinstance(m, Meta) and m.key == "sync")
    zero_s = float(at) - int(tick) * 1e-6 - HOST_S
    turns = {role: next(s.turns for r, s in sent if r == role) for role in times}
    late: dict[str, list[float]] = {role: [] for role in times}
    last = 0
    for message in messages:
        if isinstance(message, Pulse):
            assert message.tick >= last
            last = message.tick
            if message.channel in times:
                turns[message.channel] += message.count
                truth_s = times[message.channel][turns[message.channel] - 1]
                late[message.channel].append(zero_s + message.tick * 1e-6 - truth_s)
    for role in times:  # every turn that was told of is counted
        assert turns[role] == max(s.turns for r, s in sent if r == role)
    return {role: np.array(values) for role, values in late.items()}


def total_ratio(data: bytes) -> float:
    """Turns over time from first to last line of each shaft, flyer against wheel."""
    rates = {}
    messages = [m for m in Decoder().feed(data) if isinstance(m, Pulse)]
    for channel in "wf":
        lines = [m for m in messages if m.channel == channel]
        turns = sum(m.count for m in lines[1:])
        rates[channel] = turns / (lines[-1].tick - lines[0].tick)
    return rates["f"] / rates["w"]


def true_ratio(data: bytes, sent: list[tuple[str, Sent]], times: dict[str, list[float]]) -> float:
    """The same from the shafts' true times of the same turns."""
    rates = {}
    for role in "wf":
        lines = [m for m in Decoder().feed(data) if isinstance(m, Pulse) and m.channel == role]
        first = next(s.turns for r, s in sent if r == role) + lines[0].count
        last = max(s.turns for r, s in sent if r == role)
        rates[role] = (last - first) / (times[role][last - 1] - times[role][first - 1])
    return rates["f"] / rates["w"]


def told_u(data: bytes, channel: str) -> float:
    found = re.findall(rf"^# clock-tie: {channel} ([0-9.]+)$", data.decode(), re.MULTILINE)
    return float(found[-1])


@pytest.mark.parametrize("mean_s", [0.005, 0.03, 0.06])
@pytest.mark.parametrize("seed", [1, 2])
def test_two_clocks_are_tied_within_15_ms_when_each_event_is_reported(seed: int, mean_s: float) -> None:
    """The bar: 200 ppm apart, delays of at least 5 ms and exponential beyond, 5 to 60 ms."""
    sent = two_sensors(seed, 0.0, mean_s)
    times = dict(zip("wf", SHAFTS(seed, SECONDS), strict=True))
    afterwards, live = tied_afterwards(frames(sent)), same_lines(frames(sent))
    for late in errors(afterwards, sent, times).values():
        assert np.abs(late).max() <= 0.015
    for late in errors(live, sent, times).values():
        assert np.abs(late - 0.005).max() <= 0.015  # beyond the least delay, which nobody can see
    for data in (afterwards, live):
        assert total_ratio(data) == pytest.approx(true_ratio(data, sent, times), rel=1e-3)


@pytest.mark.parametrize("pace_s", [0.25, 1.0])
@pytest.mark.parametrize("mean_s", [0.005, 0.03, 0.06])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_sensors_with_a_pace_of_their_own_are_tied_within_what_is_said(seed: int, mean_s: float, pace_s: float) -> None:
    sent = two_sensors(seed, pace_s, mean_s)
    times = dict(zip("wf", SHAFTS(seed, SECONDS), strict=True))
    afterwards, live = tied_afterwards(frames(sent)), same_lines(frames(sent))
    for data, worst_s in ((afterwards, 0.04 if pace_s < 1 else 0.06), (live, 0.08)):
        for role, late in errors(data, sent, times).items():
            assert np.abs(late).max() <= worst_s
            assert np.sqrt(np.mean((late - 0.005) ** 2)) <= 2.5 * told_u(data, role)
        assert total_ratio(data) == pytest.approx(true_ratio(data, sent, times), rel=1e-3)


def test_a_log_of_two_sensors_gives_the_ratio_that_was_turned() -> None:
    """Through the reader, the conditioning and the estimator that every log goes through; 6.21 was simulated."""
    for pace_s in (0.0, 1.0):
        for remake in (same_lines, tied_afterwards):
            data = remake(frames(two_sensors(4, pace_s, 0.03)))
            log = read_log(lambda data=data: [data])  # type: ignore[misc]
            header = log.header
            assert (header.tick_hz, header.tick_bits, header.problems) == (1e6, 0, ())
            found = estimate_ratio(condition(log.rows, Rig(tick_bits=0)), header.tick_hz)
            assert found.ratio is not None
            assert found.ratio.value == pytest.approx(6.21, rel=1e-3)


def test_what_was_recorded_comes_again_from_the_raw_lines() -> None:
    sent = frames(two_sensors(5, 1.0, 0.03))[:200]
    lines = CscLines(["w", "f"])
    written = lines.header()
    for i, frame in enumerate(sent):
        if i == 120:
            written += lines.silent(Silence(frame.host_s, "w"))
        written += lines.feed(frame)
    written += lines.finish()
    events = csc_events(Decoder().feed(written))
    assert [e for e in events if isinstance(e, Frame)] == sent
    assert same_lines(events) == written
    cut = written[: len(written) * 2 // 3]  # a killed recording
    assert written.startswith(same_lines(csc_events(Decoder().feed(cut)))[: len(cut) // 2])


def combined(wheel: int, wheel_event: int, crank: int, crank_event: int) -> bytes:
    return b"\3" + struct.pack("<IHHH", wheel, wheel_event % 65536, crank % 65536, crank_event % 65536)


def test_one_combined_sensor_is_on_its_own_clock_to_the_tick() -> None:
    """No tie is needed between the shafts of one sensor, whatever the delays: intervals are those of its clock."""
    lines = CscLines(["wf"])
    data = lines.header()
    for n in range(1, 200):
        delay_s = 0.01 + (n * 37 % 50) / 1000
        payload = combined(n, 1024 * n, 65500 + 6 * n, 1024 * n - 100)
        data += lines.feed(Frame(HOST_S + n + 0.3 + delay_s, "wf", payload))
    data += lines.finish()
    pulses = [m for m in Decoder().feed(data) if isinstance(m, Pulse)]
    wheel, flyer = ([m for m in pulses if m.channel == c] for c in "wf")
    assert {b.tick - a.tick for a, b in itertools.pairwise(wheel)} == {1_000_000}
    assert {m.count for m in flyer} == {6}
    assert np.diff([m.tick for m in flyer]) == pytest.approx(1_000_000, abs=1)
    assert wheel[0].tick - flyer[0].tick == pytest.approx(100 / 1024 * 1e6, abs=1)
    assert told_u(data, "w") == pytest.approx(1 / 1024 / np.sqrt(12), abs=1e-6)
    syncs = re.findall(r"^# sync: ([0-9.]+) ([0-9]+)$", data.decode(), re.MULTILINE)
    assert len(syncs) > 10
    slope = (float(syncs[-1][0]) - float(syncs[0][0])) / (int(syncs[-1][1]) - int(syncs[0][1]))
    assert slope == pytest.approx(1e-6, rel=1e-3)


def wheel_only(count: int, event: int) -> bytes:
    return b"\1" + struct.pack("<IH", count, event % 65536)


def test_a_standing_wheel_is_heard_once_a_second() -> None:
    lines = CscLines(["w"])
    data = b"".join(lines.feed(Frame(HOST_S + n / 4, "w", wheel_only(5, 900))) for n in range(41))
    letters = [m.channel for m in Decoder().feed(data) if isinstance(m, Pulse)]
    assert letters == ["k"] * 11


def test_a_new_start_opens_a_gap_and_no_turn_is_invented() -> None:
    lines = CscLines(["w"])
    data = lines.header()
    counts = [(100, 0), (101, 1024), (102, 2048), (0, 0), (1, 4000), (2, 5000)]
    for n, (count, event) in enumerate(counts):
        data += lines.feed(Frame(HOST_S + n + 0.1, "w", wheel_only(count, event)))
    log = read_log(lambda: [data])
    assert sum(map(int, log.rows.count_value)) + (log.rows.channel == ord("w")).sum() - len(log.rows.count_row) == 4
    assert len(log.rows.gap_row) == 1
    assert log.tally.restarted == 1
    assert "started anew" in next(e.value for e in log.header.entries if e.key == "csc-doubt")


def test_malformed_and_unbelievable_payloads_are_kept_and_told() -> None:
    lines = CscLines(["w"])
    bad = [b"", b"\1\2", wheel_only(90_000, 1024 * 8)]
    good = [wheel_only(n, 1024 * n) for n in (*range(4), 6, 7, 9, 10)]
    data = lines.header()
    for n, payload in enumerate([*good[:4], *bad[:2], *good[4:6], bad[2], *good[6:]]):
        data += lines.feed(Frame(HOST_S + n, "w", payload))
    text = data.decode()
    assert len(re.findall(r"^# csc-raw: ", text, re.MULTILINE)) == 11
    assert "# csc-raw: 1700000004.000000 w -" in text
    assert len(re.findall(r"^# csc-doubt: .* (no bytes|too short)", text, re.MULTILINE)) == 2
    assert "faster than anything" in text


def test_a_sensor_whose_link_was_lost_is_counted_on_and_holds_nobody_back() -> None:
    """The flyer's link is down from 60 to 75 s; its counts go on in the sensor."""
    sent = two_sensors(6, 1.0, 0.02)
    gap = [(r, s) for r, s in sent if not (r == "f" and 60 <= s.arrival_s < 75)]
    lines = CscLines(["w", "f"])
    data, lost, at_70 = lines.header(), False, 0
    for role, s in gap:
        if s.arrival_s > 61.5 and not lost:
            lost = True
            data += lines.silent(Silence(HOST_S + s.arrival_s, "f"))
        if s.arrival_s < 70:
            at_70 = len(data)
        data += lines.feed(Frame(round(HOST_S + s.arrival_s, 6), role, s.payload))
    data += lines.finish()
    wheel_by_70 = [m for m in Decoder().feed(data[:at_70]) if isinstance(m, Pulse) and m.channel == "w"]
    wheel, flyer = SHAFTS(6, SECONDS)
    assert sum(m.count for m in wheel_by_70) >= sum(t < 66 for t in wheel) - 2
    late = errors(data, gap, {"w": wheel, "f": flyer})
    assert np.abs(late["f"]).max() < 0.08


def test_turns_that_come_too_late_for_their_place_are_counted_with_the_next() -> None:
    """The flyer's link is down from 60 to 80 s; it turned five times up to 62 s and then stood until 85 s."""
    lines = CscLines(["w", "f"])
    data = lines.header()
    for n in range(1, 100):
        data += lines.feed(Frame(HOST_S + n + 0.01, "w", wheel_only(n, 1024 * n)))
        if n == 60:
            data += lines.silent(Silence(HOST_S + n + 0.02, "f"))
        elif n < 60 or n >= 85:
            data += lines.feed(Frame(HOST_S + n + 0.52, "f", wheel_only(n if n < 60 else n - 20, 1024 * n + 512)))
        elif n >= 80:
            data += lines.feed(Frame(HOST_S + n + 0.52, "f", wheel_only(64, 1024 * 62)))
    data += lines.finish()
    flyer = [(m.count, m.tick) for m in Decoder().feed(data) if isinstance(m, Pulse) and m.channel == "f"]
    assert [count for count, _ in flyer] == [1] * 58 + [6] + [1] * 14
    assert (flyer[58][1] - flyer[57][1]) / 1e6 == pytest.approx(26, abs=0.03)


@pytest.mark.parametrize("roles", [[], ["w", "w"], ["w", "wf"], ["b"], ["w", "f", "f"]])
def test_roles_that_make_no_recording_are_refused(roles: list[str]) -> None:
    with pytest.raises(ValueError, match="roles"):
        CscLines(roles)
