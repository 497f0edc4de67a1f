"""What the line carries, and that everything beyond it is counted, in two ways that must agree."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable
from pathlib import Path

import pytest
from board import AVR_SOURCE, AWAKE_US, SHAFTS, Bench, Heard, build

#: From here on a tick has ten digits, the most that 32 bits have: the longest lines.
TEN_DIGITS_US = 1_000_000_000.0
#: After this long without edges the queue has been sent and a keep-alive has carried out any count of losses.
DRAIN_US = 2_200_000.0


def steady(start_us: float, per_s: float, seconds: float) -> list[tuple[float, str]]:
    """Pulses on all four channels in turn, `per_s` of them together."""
    return [(start_us + i * 1e6 / per_s, SHAFTS[i % 4]) for i in range(round(per_s * seconds))]


def assert_accounts_agree(heard: Heard, sent: int) -> int:
    """Every pulse was reported or counted as lost; returns how many were lost."""
    assert heard.damaged() == []
    lost = sent - len(heard.pulses())
    assert heard.overrun_pulses() == lost
    assert heard.gap_lines() == lost
    return lost


def test_five_hundred_pulses_a_second_at_115200_baud_without_loss(bench: Bench) -> None:
    bench.run(TEN_DIGITS_US)
    pulses = steady(TEN_DIGITS_US + 1_000, 500, 30)
    bench.plan(pulses)
    heard = bench.run(TEN_DIGITS_US + 30e6 + DRAIN_US)
    assert [m.channel for m in heard.pulses()] == [channel for _, channel in pulses]
    assert assert_accounts_agree(heard, len(pulses)) == 0
    longest = heard.pulses("y")[-1]
    assert longest.tick >= 10**9
    assert longest.seq is not None
    assert longest.seq >= 10_000


@pytest.mark.parametrize(("per_s", "width_us"), [(700, 400.0), (1_500, 200.0), (5_000, 90.0), (20_000, 22.0)])
def test_beyond_the_line_every_lost_pulse_is_counted(bench: Bench, per_s: int, width_us: float) -> None:
    bench.run(TEN_DIGITS_US)
    pulses = steady(TEN_DIGITS_US + 1_000, per_s, 4)
    bench.plan(pulses, width_us=width_us)
    heard = bench.run(TEN_DIGITS_US + 4e6 + DRAIN_US)
    lost = assert_accounts_agree(heard, len(pulses))
    assert lost > 0
    # what the line can carry it must carry: 534 lines a second of ten-digit ticks, some of them `x` and `k`
    assert len(heard.pulses()) >= 0.9 * 534 * 4


def test_a_burst_that_fits_the_queue_is_kept_whole(bench: Bench) -> None:
    bench.run(AWAKE_US)
    pulses = steady(AWAKE_US + 1_000, 5_000, 0.025)  # 125 pulses; the queue holds 127
    bench.plan(pulses, width_us=90.0)
    assert assert_accounts_agree(bench.run(AWAKE_US + DRAIN_US), len(pulses)) == 0


def test_a_loss_is_reported_even_when_no_pulse_follows(bench: Bench) -> None:
    bench.run(AWAKE_US)
    pulses = steady(AWAKE_US + 1_000, 5_000, 0.2)
    bench.plan(pulses, width_us=90.0)
    heard = bench.run(AWAKE_US + DRAIN_US)
    assert assert_accounts_agree(heard, len(pulses)) > 0
    last_pulse, last_overrun = heard.pulses()[-1], heard.pulses("x")[-1]
    assert last_overrun.tick > last_pulse.tick
    assert heard.pulses("k")[-1].seq == (last_overrun.seq or 0) + 2  # two keep-alives since, one with the count


def test_the_overrun_stands_just_before_the_pulse_that_follows(bench: Bench) -> None:
    bench.run(AWAKE_US)
    bench.plan(steady(AWAKE_US + 1_000, 2_000, 1), width_us=90.0)
    lines = bench.run(AWAKE_US + 1e6 + DRAIN_US).pulses(SHAFTS + "xk")
    for overrun, following in itertools.pairwise(lines):
        if overrun.channel == "x":
            assert following.tick == overrun.tick
            assert following.seq == (overrun.seq or 0) + 1


def test_a_faster_line_carries_more(start: Callable[[Path], Bench], avr_tools: None, tmp_path: Path) -> None:
    bench = start(build(AVR_SOURCE, tmp_path, BAUD="500000"))
    bench.run(TEN_DIGITS_US)
    pulses = steady(TEN_DIGITS_US + 1_000, 1_800, 3)
    bench.plan(pulses, width_us=90.0)
    assert assert_accounts_agree(bench.run(TEN_DIGITS_US + 3e6 + DRAIN_US), len(pulses)) == 0


def test_targets_seen_and_away_for_fifty_microseconds_are_all_reported(bench: Bench) -> None:
    """The narrowest target that wiring.md allows, on four channels that meet at random."""
    bench.run(AWAKE_US)
    chance = random.Random("narrow")
    pulses = [
        (AWAKE_US + 1_000 + i * 10_000 + 100 * k + chance.uniform(0, 60), channel)
        for i in range(500)
        for k in range(2)
        for channel in SHAFTS
    ]
    kept = [p for i, p in enumerate(pulses) if i % 8 < 4 or p[0] - pulses[i - 4][0] >= 100]
    bench.plan(kept, width_us=50.0)
    heard = bench.run(AWAKE_US + 5e6 + DRAIN_US)
    assert len(kept) > 2_500
    assert assert_accounts_agree(heard, len(kept)) == 0
