"""`csc:` through bleak's own Linux backend: two sensors, lost and found again, and a process that is ended."""

from __future__ import annotations

import asyncio
import itertools
import os
import signal
import struct
import sys
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import aclosing
from pathlib import Path

import pytest
from stand_in import CSC, MEASUREMENT, UART, Sensor, StandIn, playing

from whorlpulse.sources.csc import open_csc
from whorlpulse.sources.events import Arrived, Connected, Event, Lost, SourceUnavailable
from whorlpulse.sources.reconnect import Backoff
from whorlpulse.wire import Damaged, Decoder, Meta, Pulse

QUICK = Backoff(first_s=0.02, factor=1.5, longest_s=0.1)


def spoke(**changes: object) -> Sensor:
    return Sensor("Spoke", "C0:FF:EE:00:00:02", CSC, **changes)  # type: ignore[arg-type]


def whorl() -> Sensor:
    return Sensor("Whorl", "C0:FF:EE:00:00:03", CSC)


def payload(turns: int, event: int) -> bytes:
    return b"\1" + struct.pack("<IH", turns, event % 65536)


def run(play: Callable[[], Awaitable[None]]) -> None:
    async def bounded() -> None:
        async with asyncio.timeout(20):
            await play()

    asyncio.run(bounded())


async def take(events: AsyncIterator[Event], until: Callable[[list[Event]], bool]) -> list[Event]:
    got: list[Event] = []
    async with asyncio.timeout(8):
        while not until(got):
            got.append(await anext(events))
    return got


def raw(events: list[Event]) -> list[tuple[str, bytes]]:
    data = b"".join(e.data for e in events if isinstance(e, Arrived))
    found = [m.value.split() for m in Decoder().feed(data) if isinstance(m, Meta) and m.key == "csc-raw"]
    return [(role, bytes.fromhex(text)) for _, role, text in found]


def test_one_sensor_gives_a_log_with_its_payloads_in_it(bus: str) -> None:
    async def play() -> None:
        sensor = spoke()
        source = open_csc("Spoke@w", scan_s=3, backoff=QUICK)
        sent = [payload(1000 + n, 1024 * n + 60_000) for n in range(30)]
        async with playing(StandIn(sensor), bus) as system, aclosing(source.events()) as events:
            assert isinstance(await anext(events), Connected)
            for one in sent:
                assert await system.notify(sensor, MEASUREMENT, one)
            got = await take(events, lambda got: len(raw(got)) == 30)
        assert raw(got) == [("w", one) for one in sent]
        decoder = Decoder()
        data = b"".join(e.data for e in got if isinstance(e, Arrived))
        assert all(e.data.endswith(b"\n") for e in got if isinstance(e, Arrived))
        messages = decoder.feed(data)
        assert not [m for m in messages if isinstance(m, Damaged)]
        assert next((m.key, m.value) for m in messages if isinstance(m, Meta)) == ("format", "pulses 1")
        pulses = [m for m in messages if isinstance(m, Pulse) and m.channel == "w"]
        assert sum(m.count for m in pulses) == 29
        assert {b.tick - a.tick for a, b in itertools.pairwise(pulses)} == {1_000_000}

    run(play)


def test_lines_still_held_back_at_the_end_can_be_had(bus: str) -> None:
    """Two sensors, ended long before their clocks are tied: the turns are in what remains."""

    async def play() -> None:
        wheel, flyer = spoke(), whorl()
        source = open_csc("Spoke@w,Whorl@f", scan_s=3, backoff=QUICK)
        async with playing(StandIn(wheel, flyer), bus) as system, aclosing(source.events()) as events:
            await take(events, lambda got: sum(isinstance(e, Connected) for e in got) == 2)
            for n in range(5):
                await system.notify(wheel, MEASUREMENT, payload(1 + n, 1024 * n))
                await system.notify(flyer, MEASUREMENT, payload(1 + 6 * n, 1024 * n))
            got = await take(events, lambda got: len(raw(got)) == 10)
            written = b"".join(e.data for e in got if isinstance(e, Arrived))
            assert not [m for m in Decoder().feed(written) if isinstance(m, Pulse) and m.channel in "wf"]
        rest = [m for m in Decoder().feed(source.remaining()) if isinstance(m, Pulse)]
        assert sum(m.count for m in rest if m.channel == "w") == 4
        assert sum(m.count for m in rest if m.channel == "f") == 24
        assert source.remaining() == b""

    run(play)


def test_two_sensors_are_one_source_and_each_loss_is_survived(bus: str) -> None:
    async def play() -> None:
        wheel, flyer = spoke(), whorl()
        source = open_csc("Spoke@w, C0:FF:EE:00:00:03@f", scan_s=3, backoff=QUICK)
        async with playing(StandIn(wheel, flyer), bus) as system, aclosing(source.events()) as events:
            await system_listening(system, events, wheel, flyer)
            await system.notify(wheel, MEASUREMENT, payload(1, 100))
            await system.notify(flyer, MEASUREMENT, payload(9, 100))
            assert set(raw(await take(events, lambda got: len(raw(got)) == 2))) == {
                ("w", payload(1, 100)),
                ("f", payload(9, 100)),
            }
            system.drop(flyer)
            await system.notify(wheel, MEASUREMENT, payload(2, 1100))
            got = await take(events, lambda got: any(isinstance(e, Connected) for e in got))
            assert [e.why for e in got if isinstance(e, Lost)] == ["the link to Whorl (C0:FF:EE:00:00:03) was lost"]
            assert raw(got) == [("w", payload(2, 1100))]
            assert any(b"# csc-lost: " in e.data for e in got if isinstance(e, Arrived))
            await system.until_listening(flyer)
            await system.notify(flyer, MEASUREMENT, payload(19, 2100))
            await take(events, lambda got: ("f", payload(19, 2100)) in raw(got))
        assert not wheel.connected
        assert not flyer.connected

    async def system_listening(system: StandIn, events: AsyncIterator[Event], *sensors: Sensor) -> None:
        got = await take(events, lambda got: sum(isinstance(e, Connected) for e in got) == 2)
        assert sum(b"# format: pulses 1" in e.data for e in got if isinstance(e, Arrived)) == 1
        for sensor in sensors:
            await system.until_listening(sensor)

    run(play)


@pytest.mark.parametrize(
    ("sensor", "text", "says"),
    [
        (Sensor("Box", "C0:FF:EE:00:00:05", UART), "Box@w", "Box is the wrong device: it has no cycling speed"),
        (Sensor("Spoke", "C0:FF:EE:00:00:02", CSC), "Spoke@w,Absent@f", "Absent was not found"),
        (Sensor("Spoke", "C0:FF:EE:00:00:02", CSC), "Spoke@b", "after @ comes w"),
        (Sensor("Spoke", "C0:FF:EE:00:00:02", CSC), "Spoke,Whorl", "must say where they sit"),
        (Sensor("Spoke", "C0:FF:EE:00:00:02", CSC), "Spoke@w,spoke@f", "told apart by address"),
    ],
)
def test_what_can_never_work_is_one_line(bus: str, sensor: Sensor, text: str, says: str) -> None:
    async def play() -> None:
        async with playing(StandIn(sensor), bus):
            with pytest.raises(SourceUnavailable, match=says) as refused:
                await take(open_csc(text, scan_s=0.4, backoff=QUICK).events(), lambda _: False)
            assert "\n" not in str(refused.value)
        assert not sensor.connected

    run(play)


PROGRAM = """
import asyncio, sys
from contextlib import aclosing
from whorlpulse.sources.csc import open_csc
from whorlpulse.sources.events import Arrived

async def main():
    loop, task = asyncio.get_running_loop(), asyncio.current_task()
    import signal
    loop.add_signal_handler(signal.SIGTERM, task.cancel)
    async with aclosing(open_csc("Spoke@w", scan_s=2).events()) as events:
        async for event in events:
            if isinstance(event, Arrived):
                sys.stdout.buffer.write(event.data)
                sys.stdout.buffer.flush()

try:
    asyncio.run(main())
except asyncio.CancelledError:
    sys.exit(0)
"""


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGKILL])
def test_a_process_that_is_ended_leaves_the_sensor_usable(bus: str, tmp_path: Path, number: signal.Signals) -> None:
    """A real process on the bus. Told to end it disconnects; killed it can't, and the next takes the link over."""
    package = Path(sys.modules["whorlpulse"].__file__ or "").parents[1]
    environment = os.environ | {"PYTHONPATH": str(package)}

    async def heard(sensor: Sensor, system: StandIn, turns: int) -> asyncio.subprocess.Process:
        process = await asyncio.create_subprocess_exec(
            sys.executable, "-c", PROGRAM, stdout=asyncio.subprocess.PIPE, env=environment, cwd=tmp_path
        )
        assert process.stdout is not None
        try:
            await system.until_listening(sensor, 10)
            await system.notify(sensor, MEASUREMENT, payload(turns, 1024 * turns))
            async with asyncio.timeout(5):
                while payload(turns, 1024 * turns).hex().encode() not in await process.stdout.readline():
                    pass
        except BaseException:
            process.kill()
            await process.wait()
            raise
        return process

    async def play() -> None:
        sensor = spoke()
        async with playing(StandIn(sensor), bus) as system:
            first = await heard(sensor, system, 1)
            first.send_signal(number)
            async with asyncio.timeout(5):
                code = await first.wait()
                while sensor.notifying:
                    await asyncio.sleep(0.01)
            assert code == (0 if number == signal.SIGTERM else -signal.SIGKILL)
            assert sensor.connected is (number == signal.SIGKILL)
            second = await heard(sensor, system, 2)
            second.send_signal(signal.SIGTERM)
            async with asyncio.timeout(5):
                assert await second.wait() == 0
            assert not sensor.connected
            connects = system.calls.count((sensor.path, "Connect"))
            assert connects == (2 if number == signal.SIGTERM else 1)

    run(play)
