"""What the board says of itself, and what it does when asked."""

from __future__ import annotations

import pytest
from board import AWAKE_US, SHAFTS, Bench

from whorlpulse.wire import Meta

REPLY_US = 40_000.0


def asked(bench: Bench, now_us: float, command: bytes) -> dict[str, str]:
    bench.say(command)
    heard = bench.run(now_us + REPLY_US)
    assert heard.damaged() == []
    return heard.meta()


def test_the_greeting_says_how_to_read_what_follows(bench: Bench) -> None:
    heard = bench.run(AWAKE_US)
    assert heard.damaged() == []
    meta = heard.meta()
    board = meta.pop("board")
    assert "ATmega328P" in board
    assert meta == {
        "format": "pulses 1",
        "tick_hz": "1000000",
        "tick_bits": "32",
        "seq_bits": "16",
        "targets": "w=4 f=2 b=2 y=1",
        "clock": "restarted",
    }


def test_hello_repeats_the_greeting_without_claiming_a_restart(bench: Bench) -> None:
    greeting = bench.run(AWAKE_US).meta()
    assert greeting.pop("clock") == "restarted"
    assert asked(bench, AWAKE_US, b"hello\n") == greeting


def test_a_reset_is_told(bench: Bench) -> None:
    bench.run(3e6)
    bench.reset()
    heard = bench.run(3e6 + AWAKE_US)
    assert heard.meta()["clock"] == "restarted"


def test_state_tells_clock_numbers_and_losses(bench: Bench) -> None:
    bench.run(AWAKE_US)
    bench.plan([(AWAKE_US + i * 200, "f") for i in range(1, 401)], width_us=90.0)
    heard = bench.run(2e6)
    lost = 400 - len(heard.ticks("f"))
    state = dict(part.split("=") for part in asked(bench, 2e6, b"state\n")["state"].split())
    assert 1_990_000 < int(state["tick"]) < 2_000_000 + REPLY_US
    # pulses, the overruns' own lines, and one keep-alive
    assert int(state["seq"]) == 400 + len(heard.pulses("x")) + len(heard.pulses("k"))
    assert int(state["lost"]) == lost
    assert lost > 0


def test_settle_ignores_and_counts_what_comes_too_soon(bench: Bench) -> None:
    """A contact that closes once and chatters for a millisecond, and again as it opens."""
    bench.run(AWAKE_US)
    assert asked(bench, AWAKE_US, b"settle f 3000\n")["settle_us"] == "w=0 f=3000 b=0 y=0"
    now = AWAKE_US + REPLY_US
    closures = [now + i * 50_000 for i in range(1, 21)]
    chatter = [200.0, 500.0, 900.0, 20_000.0, 20_400.0]  # after closing; the last two as it opens
    for closure in closures:
        bench.plan([(closure, "f")], width_us=100.0)
        bench.plan([(closure + at, "f") for at in chatter[:2]], width_us=100.0)
        bench.plan([(closure + chatter[2], "f")], width_us=chatter[3] - chatter[2] - 100)
        bench.plan([(closure + at, "f") for at in chatter[3:]], width_us=100.0)
        bench.plan([(closure + 10_000, "w"), (closure + 11_000, "w")])
    heard = bench.run(now + 2.5e6)
    assert len(heard.ticks("f")) == len(closures)
    assert len(heard.ticks("w")) == 2 * len(closures)  # other channels are as they were
    assert heard.meta()["ignored"] == f"w=0 f={len(closures) * len(chatter)} b=0 y=0"
    spaced = {b - a for a, b in zip(heard.ticks("f"), heard.ticks("f")[1:], strict=False)}
    assert spaced <= {49_999, 50_000, 50_001}


def test_settle_without_a_letter_is_for_all_and_zero_takes_it_back(bench: Bench) -> None:
    bench.run(AWAKE_US)
    assert asked(bench, AWAKE_US, b"settle 100000\r\n")["settle_us"] == "w=100000 f=100000 b=100000 y=100000"
    now = AWAKE_US + REPLY_US
    assert asked(bench, now, b"settle 0\n")["settle_us"] == "w=0 f=0 b=0 y=0"
    now += REPLY_US
    bench.plan([(now + i * 1_000, channel) for i in range(1, 6) for channel in SHAFTS])
    assert len(bench.run(now + 1e5).pulses()) == 20


@pytest.mark.parametrize(
    "command",
    [
        b"settle 100001\n",
        b"settle 4294967297\n",
        b"settle q 10\n",
        b"settle f\n",
        b"settle \n",
        b"settle f -1\n",
        b"settle f 10 \n",
        b"Hello\n",
        b"hello there\n",
        b"\xff\x00\x80\n",
        b"a line that is much longer than any command of the board\n",
    ],
)
def test_what_is_no_command_is_refused_in_words_and_changes_nothing(bench: Bench, command: bytes) -> None:
    bench.run(AWAKE_US)
    assert set(asked(bench, AWAKE_US, command)) == {"refused"}
    after = asked(bench, AWAKE_US + REPLY_US, b"state\n")
    assert after["settle_us"] == "w=0 f=0 b=0 y=0"


def test_pulses_keep_their_moments_while_the_board_answers(bench: Bench) -> None:
    bench.run(AWAKE_US)
    times = [AWAKE_US + i * 3_000 for i in range(1, 200)]
    bench.plan([(time, "f") for time in times])
    bench.say(b"state\n")
    heard = bench.run(AWAKE_US + 1e6)
    steps = {b - a for a, b in zip(heard.ticks("f"), heard.ticks("f")[1:], strict=False)}
    assert "state" in heard.meta()
    assert len(heard.ticks("f")) == len(times)
    assert steps <= {2_998, 2_999, 3_000, 3_001, 3_002}  # two edges, each within 2 us


def test_the_lamp_shows_a_target_without_any_host(bench: Bench) -> None:
    bench.run(AWAKE_US)
    assert not bench.lamp()
    bench.plan([(AWAKE_US + 1_000, "b")], width_us=5_000.0)
    bench.run(AWAKE_US + 3_000)
    assert bench.lamp()
    bench.run(AWAKE_US + 8_000)
    assert not bench.lamp()


def test_a_still_wheel_sends_one_keep_alive_a_second(bench: Bench) -> None:
    heard = bench.run(60.5e6)
    assert heard.pulses() == []
    assert len(heard.pulses("k")) == 60
    assert [m for m in heard.messages if isinstance(m, Meta)][-1].key == "clock"


def test_every_pulse_line_has_a_checksum(bench: Bench) -> None:
    bench.run(AWAKE_US)
    bench.plan([(AWAKE_US + i * 10_000, "wfby"[i % 4]) for i in range(1, 100)])
    raw = bench.run(AWAKE_US + 2e6).raw
    lines = [line for line in raw.split(b"\n") if line]
    assert len(lines) == 99 + 2
    assert all(line[-3:-2] == b"*" for line in lines)
