"""What is said of a recording while it runs, against the simulator's truth and by its own rules."""

from __future__ import annotations

import random

import pytest

from whorlpulse.actions.live_figures import LiveFigures, RecentRows
from whorlpulse.actions.ratio_so_far import ratio_so_far
from whorlpulse.logfile import read_log
from whorlpulse.pulses import SHAFTS
from whorlpulse.simulate import scenario, simulate
from whorlpulse.views.found import Found, found_text, quoted
from whorlpulse.views.recording_line import (
    ASK_LENGTH,
    Recording,
    SoFar,
    clock,
    closing_lines,
    live_line,
    nothing_came,
    progress_line,
)
from whorlpulse.wire import Pulse, encode_pulse


def fed(log: bytes, size: int = 500) -> LiveFigures:
    """Figures of a log in chunks, as if each second of it took a second to arrive."""
    figures = LiveFigures()
    for start in range(0, len(log), size):
        figures.take(log[start : start + size], start / size, start / size)
    return figures


@pytest.mark.parametrize("name", ["steady", "bad-line", "coarse-clock", "skein-on-plan"])
def test_counts_are_those_of_the_finished_log(name: str) -> None:
    log = simulate(scenario(name), 3).log
    figures, found = fed(log), read_log(lambda: [log])
    weights = {int(r): int(c) for r, c in zip(found.rows.count_row, found.rows.count_value, strict=True)}
    for letter in SHAFTS:
        rows = [i for i, c in enumerate(found.rows.channel) if c == letter]
        assert figures.pulses[chr(letter)] == sum(weights.get(i, 1) for i in rows)
    assert figures.lost == found.tally.lost
    assert figures.damaged == found.tally.malformed_lines + found.tally.bad_checksum
    assert figures.header.targets == found.header.targets


def test_the_ratio_so_far_is_the_true_one() -> None:
    """Against the simulated truth of the run; 0.05 % is the project's bar for a log with faults (this has none)."""
    capture = simulate(scenario("steady"), 4)
    figures = fed(capture.log)
    rows, cut = figures.recent()
    assert not cut
    found = ratio_so_far(rows, figures.header)
    assert found is not None
    (run,) = capture.truth.runs
    assert float(found.value) == pytest.approx(run.ratio, rel=5e-4)
    whole = read_log(lambda: [capture.log])
    assert ratio_so_far(whole.rows, whole.header) == found


def test_the_cadence_is_the_one_treadled() -> None:
    """A wheel with 4 targets at exactly 48 turns a minute: a pulse every 0.3125 s."""
    figures = LiveFigures()
    figures.take(b"# targets: w=4 f=1\n", 0.0, 0.0)
    assert figures.cadence_per_min() is None
    for i in range(60):
        figures.take(encode_pulse("w", (4_294_000_000 + 312_500 * i) % 2**32, i), 0.3125 * i, 0.0)  # over the wrap
    assert figures.cadence_per_min() == pytest.approx(48.0, rel=1e-9)
    for k in range(4):  # keep-alives only: the wheel stands
        figures.take(encode_pulse("k", (4_294_000_000 + 312_500 * 59 + 1_000_000 * (k + 1)) % 2**32, 60 + k), 0.0, 0.0)
    assert figures.cadence_per_min() == 0.0


def test_the_tick_of_a_moment_runs_on_from_the_last_line() -> None:
    figures = LiveFigures()
    assert figures.tick_at(3.0) is None
    figures.take(b"# tick_hz: 1000\n# tick_bits: 16\nk,65000\n", 10.0, 0.0)
    assert figures.tick_at(10.25) == 65250
    assert figures.tick_at(11.0) == (65000 + 1000) % 65536


def test_recent_rows_are_the_last_ones_and_bounded() -> None:
    dice = random.Random(2)
    recent = RecentRows(recent_s=50.0, most=100)
    told: list[tuple[int, int, int | None]] = []
    for i in range(1000):
        gap = dice.choice([None, None, None, 0, 3])
        if gap is not None:
            recent.gap(gap)
        count = dice.choice([1, 1, 2])
        recent.add(Pulse(i, "f", i, None, count), 0.1 * i)
        told.append((i, count, gap))
        assert len(recent._tick) < 200
    rows, cut = recent.rows()
    assert cut
    last = told[-100:]
    assert rows.tick.tolist() == [i for i, _, _ in last]
    assert rows.count_row.tolist() == [k for k, (_, count, _) in enumerate(last) if count != 1]
    assert set(rows.count_value.tolist()) == {2}
    assert rows.gap_row.tolist() == [k for k, (_, _, gap) in enumerate(last) if gap is not None]
    assert rows.gap_lines.tolist() == [gap for _, _, gap in last if gap is not None]
    recent.add(Pulse(1, "w", 5000, None, 1), 140.0)  # 40 s later: rows of more than 50 s ago go
    assert recent.rows()[0].tick.tolist() == [*range(900, 1000), 5000][-100:]
    recent.add(Pulse(1, "w", 6000, None, 1), 1000.0)
    assert recent.rows()[0].tick.tolist() == [6000]


NOW = Recording(
    elapsed_s=725.0,
    connected=True,
    heard=True,
    pulses={"w": 12, "f": 99},
    cadence_per_min=61.7,
    ratio=SoFar("8.43", "0.02"),
    lines=130,
    lost=2,
    damaged=1,
    interruptions=1,
)


def test_the_line_says_all_and_fits() -> None:
    whole = "12:05 · wheel 12 · flyer 99 · 62 turns/min · ratio 8.43 ± 0.02 · 2 lost · 1 damaged · 1 interruption"
    assert progress_line(NOW) == whole
    for width in range(20, 130):
        assert live_line(NOW, width) == whole[: width - 1]


def test_a_lost_source_and_simulated_data_say_so_first() -> None:
    lost = Recording(elapsed_s=5.0, why_lost="the port is gone", simulated=True)
    assert progress_line(lost) == "0:05 · simulated · NOT CONNECTED (the port is gone), trying again"
    assert "simulated" in closing_lines(Recording(elapsed_s=5.0, simulated=True, pulses={"f": 1}), "x")[0]


def test_what_is_typed_stays_in_sight() -> None:
    asked = Recording(elapsed_s=5.0, asked=ASK_LENGTH + "0.62 m")
    for width in range(20, 130):
        shown = live_line(asked, width)
        assert len(shown) < width
        assert shown.endswith("0.62 m")


def test_the_end_is_told_with_what_is_missing() -> None:
    assert closing_lines(NOW, "wheel.pulses") == [
        "wheel.pulses: 12:05 recorded, pulses: 12 of the wheel, 99 of the flyer.",
        "Ratio so far 8.43 ± 0.02 : 1.",
        "Missing: 2 lines lost, 1 line damaged, 1 interruption; they are marked in the log.",
    ]
    assert "baud" in nothing_came(Recording(elapsed_s=1.0, lines=3))
    assert "powered" in nothing_came(Recording(elapsed_s=1.0))


def test_times_read_as_on_a_watch() -> None:
    assert [clock(s) for s in (0.9, 59.99, 60, 3599, 3600, 90061)] == [
        "0:00",
        "0:59",
        "1:00",
        "59:59",
        "1:00:00",
        "25:01:01",
    ]


def test_found_devices_come_with_what_to_type() -> None:
    ports = [Found("serial:/dev/ttyUSB0", "a board", usable=False), Found("serial:COM3", "another")]
    text = found_text(ports, [Found("ble:Wheel sensor", "AA:BB, -60 dBm")], ["a hint"])
    assert "serial:/dev/ttyUSB0  a board (may not be opened)" in text
    assert '"ble:Wheel sensor"' in text
    assert text.endswith("To record: whorlpulse record wheel.pulses --from serial:COM3")
    empty = found_text([], [], ["a hint"])
    assert "no serial port is there" in empty
    assert "no Bluetooth LE device is heard" in empty
    assert "To record" not in empty
    assert quoted('ble:a "b"') == '"ble:a \\"b\\""'
