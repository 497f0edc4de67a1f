"""`record` over Bluetooth LE as users start it: its own process, a link lost on the way, ended by Ctrl-C."""

from __future__ import annotations

import asyncio
import os
import signal
import sys
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from stand_in import CSC, MEASUREMENT, UART, Sensor, StandIn, playing

from whorlpulse.logfile import read_log
from whorlpulse.wire import encode_pulse


def recorded(bus: str, sensor: Sensor, source: str, play: Callable[[StandIn], Awaitable[None]], log: Path) -> bytes:
    """Run `record` while `play` goes on, end it as Ctrl-C does, and return the log."""
    package = Path(sys.modules["whorlpulse"].__file__ or "").parents[1]
    command = [sys.executable, "-m", "whorlpulse", "record", str(log), "--from", source, "--quiet"]

    async def bounded() -> None:
        async with asyncio.timeout(25), playing(StandIn(sensor), bus) as system:
            process = await asyncio.create_subprocess_exec(
                *command, env=os.environ | {"PYTHONPATH": str(package)}, stderr=asyncio.subprocess.PIPE
            )
            try:
                await system.until_listening(sensor, 10)
                await play(system)
                await asyncio.sleep(0.3)
                process.send_signal(signal.SIGINT)
                _, said = await process.communicate()
            except BaseException:
                process.kill()
                await process.communicate()
                raise
            assert process.returncode == 0, said.decode()
            assert not sensor.connected

    asyncio.run(bounded())
    return log.read_bytes()


def test_a_board_whose_link_is_lost_and_found(bus: str, tmp_path: Path) -> None:
    sensor = Sensor("Treadle box", "C0:FF:EE:00:00:01", UART)
    before = b"".join(encode_pulse("wf"[n % 2], 20_000 * n, n) for n in range(200))
    after = b"".join(encode_pulse("wf"[n % 2], 20_000 * n, n) for n in range(220, 400))

    async def play(system: StandIn) -> None:
        await system.send_text(sensor, before + b"w,4000")  # the link is lost within a line
        system.drop(sensor)
        await system.until_listening(sensor)
        await system.send_text(sensor, after)

    log = recorded(bus, sensor, "ble:Treadle box", play, tmp_path / "box.pulses")
    board = b"".join(line for line in log.splitlines(keepends=True) if not line.startswith(b"#"))
    assert board.startswith(before + b"w,4000")
    assert board.endswith(b"\n" + after)
    read = read_log(lambda: [log])
    assert (read.rows.channel != ord("k")).sum() == 380
    assert read.tally.lost + read.tally.malformed_lines == 20  # numbers 200 to 219, the torn one among them
    assert {entry.key for entry in read.header.entries} >= {"lost", "resumed", "started"}


def test_a_wheel_sensor(bus: str, tmp_path: Path) -> None:
    sensor = Sensor("Spoke", "C0:FF:EE:00:00:02", CSC)

    async def play(system: StandIn) -> None:
        for n in range(60):
            await system.notify(
                sensor, MEASUREMENT, b"\1" + (500 + n).to_bytes(4, "little") + (900 * n % 65536).to_bytes(2, "little")
            )

    log = recorded(bus, sensor, "csc:Spoke@w", play, tmp_path / "spoke.pulses")
    read = read_log(lambda: [log])
    wheel = read.rows.tick[read.rows.channel == ord("w")]
    assert len(wheel) == 59
    assert (wheel[-1] - wheel[0]) / read.header.tick_hz == pytest.approx(58 * 900 / 1024, abs=2e-6)
    assert sum(entry.key == "csc-raw" for entry in read.header.entries) == 60
    assert not read.header.problems
