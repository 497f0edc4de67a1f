"""How well the reference firmware stamps: reported ticks against the moments that the bench set.

The bench's own edges land up to 3 cycles late (the simulator acts between instructions), 0.2 us. A tick is 1 us, so
a perfect stamp scatters by half a tick. The constant part (start-up before the clock starts) is taken off with a
lone first edge; only what differs from edge to edge can disturb an interval. The bounds are those of the project's
design for this board: 1 us for a lone channel, 40 us for four at once.
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from board import AVR_SOURCE, AWAKE_US, SHAFTS, Bench, build

LAP_US = 32_768.0  # timer 1 at half a microsecond, 16 bits


def on_grid(us: float) -> float:
    """The nearest processor cycle: edges can fall on no other moment."""
    return round(us * 16) / 16


def offset_us(bench: Bench) -> float:
    """Reported tick less true time of one edge that comes while nothing else happens."""
    bench.run(AWAKE_US)
    bench.plan([(AWAKE_US + 10_000, "w")])
    (tick,) = bench.run(AWAKE_US + 20_000).ticks("w")
    return tick - (AWAKE_US + 10_000)


def errors_us(ticks: list[int], times_us: list[float], offset: float) -> list[float]:
    assert len(ticks) == len(times_us)
    return [tick - time - offset for tick, time in zip(ticks, times_us, strict=True)]


@pytest.mark.parametrize("channel", SHAFTS)
def test_a_lone_channel_is_stamped_within_a_microsecond(bench: Bench, channel: str) -> None:
    offset = offset_us(bench)
    chance = random.Random(f"lone {channel}")
    times = [AWAKE_US + 30_000.0]
    while len(times) < 1_500:  # about 100 a second, no two alike in phase
        times.append(on_grid(times[-1] + chance.uniform(8_000, 12_000)))
    bench.plan([(time, channel) for time in times])
    errors = errors_us(bench.run(times[-1] + 50_000).ticks(channel), times, offset)
    assert max(errors) <= 1.0
    assert min(errors) >= -1.0


def test_four_edges_at_one_instant_get_one_tick(bench: Bench) -> None:
    offset = offset_us(bench)
    times = [on_grid(AWAKE_US + 30_000 + i * 20_000.3125) for i in range(500)]
    bench.plan([(time, channel) for time in times for channel in SHAFTS])
    heard = bench.run(times[-1] + 50_000)
    for channel in SHAFTS:
        assert heard.ticks(channel) == heard.ticks("w")
        assert max(map(abs, errors_us(heard.ticks(channel), times, offset))) <= 1.0


def test_four_edges_close_together_are_stamped_within_forty_microseconds(bench: Bench) -> None:
    """The worst case for one interrupt that serves all: the others come while the first is being served."""
    offset = offset_us(bench)
    chance = random.Random("close")
    bursts = []
    for i in range(1_500):
        start = on_grid(AWAKE_US + 30_000 + i * 20_011.25 + chance.random())
        bursts.append([start, *(on_grid(start + chance.uniform(0, 60)) for _ in "fby")])
    bench.plan([(time, channel) for burst in bursts for time, channel in zip(burst, SHAFTS, strict=True)])
    heard = bench.run(bursts[-1][0] + 50_000)
    worst = {}
    for place, channel in enumerate(SHAFTS):
        times = [burst[place] for burst in bursts]
        worst[channel] = max(map(abs, errors_us(heard.ticks(channel), times, offset)))
    assert max(worst.values()) <= 40.0, worst
    # were this under a microsecond, the edges would not have met and the test would show nothing
    assert max(worst.values()) > 5.0


def test_an_edge_during_sending_is_stamped_within_two_microseconds(bench: Bench) -> None:
    """A second edge is moved over the first one's line, in steps of one cycle: timing.md gives the bound."""
    offset = offset_us(bench)
    starts = [AWAKE_US + 30_000 + i * 6_000 for i in range(1_400)]
    moved = [start + 400 + i / 16 for i, start in enumerate(starts)]  # one byte takes 85 us: all phases
    # the first target has gone long before the second comes: its leaving is an edge, too
    bench.plan([(time, "w") for time in starts] + [(time, "f") for time in moved], width_us=150.0)
    heard = bench.run(starts[-1] + 50_000)
    assert max(map(abs, errors_us(heard.ticks("f"), moved, offset))) <= 2.0


def sweep_over_lap_ends(bench: Bench) -> list[float]:
    """Errors of edges that lie, one a lap, from 100 us before to 100 us after the lap's end, a cycle apart."""
    offset = offset_us(bench)
    steps = 3_200
    first = 4  # laps that the greeting and the lone edge take
    times = [on_grid((i + first) * LAP_US - offset) + (i - steps / 2) / 16 for i in range(steps)]
    bench.plan([(time, "f") for time in times])
    return errors_us(bench.run(times[-1] + 50_000).ticks("f"), times, offset)


def test_no_edge_near_the_end_of_a_lap_goes_astray(bench: Bench) -> None:
    """An edge that comes as the timer overflows may be credited to the wrong lap, 32768 us off."""
    errors = sweep_over_lap_ends(bench)
    # once a second the keep-alive is queued just then, with interrupts off: timing.md gives 10 us
    assert max(map(abs, errors)) <= 10.0
    assert sum(abs(error) > 1.0 for error in errors) <= 10


@pytest.mark.parametrize(
    ("right", "wrong", "why"),
    [
        ("((TIFR1 & _BV(TOV1)) || (CLOCK_OWED & 1))", "0", "no look at laps not yet counted"),
        ("(TIFR1 & _BV(TOV1)) ||", "", "only the debt is looked at, not the timer's own flag"),
        ("|| (CLOCK_OWED & 1)", "", "only the timer's flag is looked at, not the debt"),
        (" && counter < 0x8000", "", "a counter read before the end is credited to the next lap"),
    ],
)
def test_the_sweep_finds_a_clock_that_is_wrong_at_the_end_of_a_lap(
    start: Callable[[Path], Bench], avr_tools: None, tmp_path: Path, right: str, wrong: str, why: str
) -> None:
    spoilt = tmp_path / "source"
    shutil.copytree(AVR_SOURCE, spoilt, ignore=shutil.ignore_patterns("build"))
    clock = spoilt / "clock.h"
    text = clock.read_text()
    assert text.count(right) == 1
    clock.write_text(text.replace(right, wrong))
    errors = sweep_over_lap_ends(start(build(spoilt, tmp_path / "build")))
    assert max(map(abs, errors)) > LAP_US / 2, why
