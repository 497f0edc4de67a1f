"""Over the clock's wrap at 2^32 microseconds, 71.6 minutes: nothing lost, nothing moved."""

from __future__ import annotations

import itertools

from board import AWAKE_US, Bench

WRAP = 2**32
MINUTE_US = 60e6


def test_seventy_five_minutes_over_the_wrap_without_an_error(bench: Bench) -> None:
    bench.run(AWAKE_US)
    step_us, number = 100_000.0, 45_000
    times = [AWAKE_US + 1_000 + i * step_us for i in range(number)]
    bench.plan([(time, "wf"[i % 2]) for i, time in enumerate(times)])
    heard = bench.run(75 * MINUTE_US + AWAKE_US + 10_000)
    assert heard.damaged() == []
    assert heard.gap_lines() == 0
    pulses = heard.pulses()
    assert [m.channel for m in pulses] == ["wf"[i % 2] for i in range(number)]
    steps = [b.tick - a.tick for a, b in itertools.pairwise(pulses)]
    wraps = [step for step in steps if step < 0]
    assert len(wraps) == 1
    # equal true steps and whole ticks: a step may differ by one from rounding, and never drifts
    assert {step % WRAP for step in steps} <= {99_999, 100_000, 100_001}
    assert abs(sum(step % WRAP for step in steps) - (number - 1) * 100_000) <= 1
    keep_alives = heard.pulses("k")
    assert abs(len(keep_alives) - 75 * 60) <= 1
    gaps = [(b.tick - a.tick) % WRAP for a, b in itertools.pairwise(keep_alives)]
    assert max(gaps) <= 1_040_000  # a lap of 33 ms and a line late, at most
    assert min(gaps) >= 960_000


def test_an_edge_one_wrap_ago_is_not_taken_for_a_bounce(bench: Bench) -> None:
    bench.run(AWAKE_US)
    bench.say(b"settle w 5000\n")
    first = AWAKE_US + 100_000
    bench.plan([(first, "w")], width_us=1_000.0)
    assert len(bench.run(first + 10_000).ticks("w")) == 1
    again = first + WRAP + 1_000 + 2_000  # 2 ms after the target's leaving, seen modulo the wrap
    bench.plan([(again, "w")], width_us=1_000.0)
    heard = bench.run(again + 2e6)
    assert len(heard.ticks("w")) == 1
    assert "ignored" not in heard.meta()
