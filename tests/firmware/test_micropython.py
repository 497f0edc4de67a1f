"""The MicroPython reference under a MicroPython interpreter, and the same bytes under CPython."""

from __future__ import annotations

import itertools
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from board import AWAKE_US, HERE, NOTES, Bench, Heard

from tools import require_tool
from whorlpulse.wire import Decoder, Gap, Pulse, encode_pulse

MODULES = NOTES / "reference" / "micropython"
SCRIPTS = HERE / "micropython_scripts"
TICK_BITS = 30


@pytest.fixture(scope="module")
def micropython() -> str:
    return require_tool("micropython")


def run(interpreter: str, script: str, typed: bytes = b"") -> bytes:
    command = [interpreter, str(SCRIPTS / script), str(MODULES)]
    ran = subprocess.run(command, input=typed, capture_output=True, check=False, timeout=60)
    assert ran.returncode == 0, ran.stderr.decode() + ran.stdout[-2000:].decode()
    return ran.stdout


def decoded(raw: bytes) -> Heard:
    decoder = Decoder()
    return Heard(raw, decoder.feed(raw) + decoder.finish())


@pytest.fixture(scope="module")
def scenario() -> Heard:
    return decoded(run(sys.executable, "scenario.py"))


def test_both_interpreters_write_the_same_bytes(micropython: str, scenario: Heard) -> None:
    assert run(micropython, "scenario.py") == scenario.raw


def test_the_scenario_reaches_every_corner(scenario: Heard) -> None:
    """Else the same bytes would say little."""
    assert scenario.damaged() == []
    lines = scenario.pulses("wfbykx")
    assert {m.channel for m in lines} == set("wfbykx")
    assert max(m.tick for m in lines) < 2**TICK_BITS
    assert any(b.tick < a.tick for a, b in itertools.pairwise(lines))  # over the clock's wrap
    assert any((b.seq or 0) < (a.seq or 0) for a, b in itertools.pairwise(lines))
    assert scenario.meta()["tick_bits"] == str(TICK_BITS)
    assert {"refused", "state", "ignored", "settle_us", "clock"} <= set(scenario.meta())


def test_what_the_queue_lost_is_counted_twice_alike(scenario: Heard) -> None:
    assert scenario.overrun_pulses() > 0
    assert scenario.gap_lines() == scenario.overrun_pulses()
    waiting = 0
    for message in scenario.messages:
        if isinstance(message, Gap):
            waiting = message.lines
        elif isinstance(message, Pulse):
            assert waiting in (0, message.count if message.channel == "x" else 0)
            waiting = 0


def test_every_line_is_the_one_that_the_hosts_encoder_writes(scenario: Heard) -> None:
    lines = scenario.raw.splitlines(keepends=True)
    for m in scenario.pulses("wfbykx"):
        assert lines[m.line - 1] == encode_pulse(m.channel, m.tick, m.seq, m.count if m.count != 1 else None)


def test_an_interrupt_asks_for_no_memory(micropython: str) -> None:
    said = run(micropython, "no_heap.py").decode().split("\n")
    assert said[0].startswith("pulses lost ")
    assert int(said[0].split()[2]) > 20
    assert int(said[0].split()[4]) > 20
    assert said[1] == "lock holds"


def test_the_board_program_runs_on_moved_pins(micropython: str) -> None:
    heard = decoded(run(micropython, "board_session.py", b"state\nsettle y 250\nnonsense\n"))
    assert heard.damaged() == []
    assert heard.gap_lines() == 0
    meta = heard.meta()
    assert meta["tick_bits"] == "30"
    assert meta["settle_us"] == "w=0 f=0 b=0 y=250"
    assert meta["clock"] == "restarted"
    assert "state" in meta
    assert "refused" in meta
    assert [m.channel for m in heard.pulses()] == ["wfby"[i % 4] for i in range(200)]
    assert len(heard.pulses("k")) == 3
    steps = [(b.tick - a.tick) % 2**TICK_BITS for a, b in zip(heard.pulses(), heard.pulses()[1:], strict=False)]
    assert 9_000 < sorted(steps)[len(steps) // 2] < 11_000  # the script moves a pin every 10 ms


def test_both_references_answer_alike(start: Callable[[Path], Bench], firmware: Path) -> None:
    """The same commands to both boards; clock and name may differ, the wording may not."""
    commands = b"settle w 40\nsettle 7\nsettle x 7\nsettle 100001\nwhat\nthis command is much too long for any board\n"
    bench = start(firmware)
    bench.run(AWAKE_US)
    from_avr = b""
    now = AWAKE_US
    for command in commands.splitlines(keepends=True):
        bench.say(command)
        now += 40_000
        from_avr += bench.run(now).raw
    script = (
        "import sys; sys.path.insert(0, sys.argv[1]);"
        "from conversation import Conversation; from pulsequeue import Queue, Sensors;"
        "q = Queue(); t = Conversation(q, Sensors(q), (4, 2, 2, 1), 'b');"
        "[sys.stdout.buffer.write(t.answer(0)) for byte in sys.stdin.buffer.read() if t.hear(byte)]"
    )
    ran = subprocess.run(
        [sys.executable, "-c", script, str(MODULES)], input=commands, capture_output=True, check=True, timeout=60
    )
    assert ran.stdout == from_avr
    assert from_avr.count(b"\n") == 6
