"""`ble:` through bleak's own Linux backend on a private bus: found, connected, heard, lost, found again."""

from __future__ import annotations

import asyncio
import os
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import aclosing

import pytest
from stand_in import CSC, FROM_BOARD, TO_BOARD, UART, Sensor, StandIn, playing

from whorlpulse.sources.ble import FoundSensor, full_uuid, open_ble, scan
from whorlpulse.sources.events import Arrived, Connected, Event, Lost, SourceUnavailable
from whorlpulse.sources.reconnect import Backoff
from whorlpulse.wire import Decoder, Pulse, encode_pulse

QUICK = Backoff(first_s=0.02, factor=1.5, longest_s=0.1)


def board(**changes: object) -> Sensor:
    return Sensor("Treadle box", "C0:FF:EE:00:00:01", UART, **changes)  # type: ignore[arg-type]


def lines(first: int, count: int) -> bytes:
    """Pulse lines of several widths, so that pieces of 20 bytes cut them everywhere."""
    return b"".join(encode_pulse("wf"[n % 2], n * 98765, n) for n in range(first, first + count))


async def take(events: AsyncIterator[Event], until: Callable[[list[Event]], bool], seconds: float = 8.0) -> list[Event]:
    got: list[Event] = []
    async with asyncio.timeout(seconds):
        while not until(got):
            got.append(await anext(events))
    return got


def text_of(events: list[Event]) -> bytes:
    return b"".join(e.data for e in events if isinstance(e, Arrived))


def run(play: Callable[[], Awaitable[None]]) -> None:
    async def bounded() -> None:
        async with asyncio.timeout(20):
            await play()

    asyncio.run(bounded())


@pytest.mark.parametrize("who", ["Treadle box", "treadle BOX", "C0:FF:EE:00:00:01"])
@pytest.mark.parametrize("mtu", [23, 60])
def test_every_byte_arrives_in_order_wherever_lines_are_cut(bus: str, who: str, mtu: int) -> None:
    async def play() -> None:
        sensor, sent = board(mtu=mtu), lines(0, 150)
        source = open_ble(who, scan_s=3, backoff=QUICK)
        async with playing(StandIn(sensor, Sensor("Other", "C0:FF:EE:00:00:99", UART)), bus) as system:
            async with aclosing(source.events()) as events:
                first = await anext(events)
                assert isinstance(first, Connected)
                assert first.name == "Treadle box (C0:FF:EE:00:00:01)"
                await system.send_text(sensor, sent)
                got = await take(events, lambda got: len(text_of(got)) >= len(sent))
            assert text_of(got) == sent
            assert max(len(e.data) for e in got if isinstance(e, Arrived)) == mtu - 3
            assert not sensor.connected  # closing the iterator took the link down
        decoder = Decoder()
        messages = decoder.feed(text_of(got))
        assert [m.seq for m in messages if isinstance(m, Pulse)] == list(range(150))
        assert len(messages) == 150

    run(play)


def test_a_lost_link_is_told_and_made_anew(bus: str) -> None:
    async def play() -> None:
        sensor = board()
        source = open_ble("Treadle box", scan_s=3, backoff=QUICK)
        async with playing(StandIn(sensor), bus) as system, aclosing(source.events()) as events:
            await anext(events)
            for cycle in range(3):
                await system.send_text(sensor, lines(10 * cycle, 10))
                system.drop(sensor)
                got = await take(events, lambda got: any(isinstance(e, Connected) for e in got))
                assert text_of(got) == lines(10 * cycle, 10)
                kinds = [type(e) for e in got if not isinstance(e, Arrived)]
                assert kinds == [Lost, Connected]
                assert "was lost" in next(e.why for e in got if isinstance(e, Lost))
                await system.until_listening(sensor)

    run(play)


def test_losses_leave_no_descriptor_open(bus: str) -> None:
    def descriptors() -> int:
        return len(os.listdir("/proc/self/fd"))

    async def play() -> None:
        sensor = board()
        source = open_ble("Treadle box", scan_s=3, backoff=QUICK)
        async with playing(StandIn(sensor), bus) as system, aclosing(source.events()) as events:
            await anext(events)
            counts = []
            for _ in range(8):
                system.drop(sensor)
                await take(events, lambda got: any(isinstance(e, Connected) for e in got))
                counts.append(descriptors())
            assert counts[-1] == counts[0]

    run(play)


def test_a_sensor_that_vanishes_and_comes_back(bus: str) -> None:
    async def play() -> None:
        sensor = board()
        source = open_ble("Treadle box", scan_s=0.4, backoff=QUICK)
        async with playing(StandIn(sensor), bus) as system, aclosing(source.events()) as events:
            await anext(events)
            sensor.in_range = False
            system.drop(sensor)
            system.forget(sensor)
            assert isinstance(await anext(events), Lost)
            waiting = asyncio.ensure_future(anext(events))
            await asyncio.sleep(1.2)
            assert not waiting.done()
            scans = system.calls.count(("/org/bluez/hci0", "StartDiscovery"))
            assert scans >= 3  # it went on looking
            sensor.in_range = True
            async with asyncio.timeout(5):
                assert isinstance(await waiting, Connected)

    run(play)


def test_a_sensor_that_advertises_only_once_a_scan_is_not_missed(bus: str) -> None:
    async def play() -> None:
        async with playing(StandIn(board(advertise_once=True)), bus):
            for _ in range(3):
                async with aclosing(open_ble("Treadle box", scan_s=2, backoff=QUICK).events()) as events:
                    assert isinstance(await anext(events), Connected)

    run(play)


def test_the_adapter_turned_off_and_on_while_recording(bus: str) -> None:
    async def play() -> None:
        sensor = board()
        source = open_ble("Treadle box", scan_s=1, backoff=QUICK)
        async with playing(StandIn(sensor), bus) as system, aclosing(source.events()) as events:
            await anext(events)
            system.power(False)
            assert isinstance(await anext(events), Lost)
            waiting = asyncio.ensure_future(anext(events))
            await asyncio.sleep(0.3)
            assert not waiting.done()
            system.power(True)
            async with asyncio.timeout(5):
                assert isinstance(await waiting, Connected)
            await system.send_text(sensor, lines(0, 3))
            assert text_of(await take(events, lambda got: len(text_of(got)) >= len(lines(0, 3)))) == lines(0, 3)

    run(play)


@pytest.mark.parametrize(
    ("system", "who", "says"),
    [
        (lambda: StandIn(board(), powered=False), "Treadle box", "Bluetooth is turned off"),
        (lambda: StandIn(board(), adapter=False), "Treadle box", "no Bluetooth adapter"),
        (lambda: StandIn(board()), "Nobody", "Nobody was not found in 0.4 s"),
        (lambda: StandIn(board(refuse="org.bluez.Error.Failed")), "Treadle box", "Treadle box cannot be reached"),
        (lambda: StandIn(board(refuse="org.freedesktop.DBus.Error.AccessDenied")), "Treadle box", "may not talk"),
        (
            lambda: StandIn(Sensor("Spoke", "C0:FF:EE:00:00:02", CSC)),
            "Spoke",
            "speed-and-cadence sensor, use csc:Spoke",
        ),
        (lambda: StandIn(Sensor("Lamp", "C0:FF:EE:00:00:03", {"ff00": {"ff01": ("write",)}})), "Lamp", "wrong device"),
    ],
)
def test_what_can_never_work_is_one_line_at_once(bus: str, system: Callable[[], StandIn], who: str, says: str) -> None:
    async def play() -> None:
        source = open_ble(who, scan_s=0.4, backoff=QUICK)
        async with playing(system(), bus) as here:
            with pytest.raises(SourceUnavailable, match=says) as refused:
                await anext(source.events())
            assert "\n" not in str(refused.value)
            assert not any(sensor.connected for sensor in here.sensors.values())

    run(play)


def test_without_a_bluetooth_service_or_a_bus_it_says_so(bus: str, monkeypatch: pytest.MonkeyPatch) -> None:
    async def play() -> None:
        with pytest.raises(SourceUnavailable, match="Bluetooth service does not run"):
            await anext(open_ble("Treadle box").events())

    async def no_bus() -> None:
        with pytest.raises(SourceUnavailable, match="message bus cannot be reached"):
            await anext(open_ble("Treadle box").events())

    run(play)
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent/bus")
    run(no_bus)


def test_silence_is_a_lost_link_even_when_the_service_has_died(bus: str) -> None:
    async def play() -> None:
        sensor = board()
        source = open_ble("Treadle box?silence=0.4", scan_s=2, backoff=QUICK)
        system = StandIn(sensor)
        await system.start(bus)
        try:
            async with aclosing(source.events()) as events:
                await anext(events)
                await system.die()  # no callback comes, and bleak says that it is connected
                lost = await anext(events)
                assert isinstance(lost, Lost)
                assert "said nothing for 0.4 s" in lost.why
                waiting = asyncio.ensure_future(anext(events))
                await asyncio.sleep(0.3)
                await system.start(bus)
                async with asyncio.timeout(8):
                    assert isinstance(await waiting, Connected)
        finally:
            await system.die()

    run(play)


def test_a_link_left_over_from_a_killed_program_is_taken_over(bus: str) -> None:
    async def play() -> None:
        sensor = board()
        async with playing(StandIn(sensor), bus) as system:
            sensor.known = sensor.connected = True  # so it does not advertise
            async with aclosing(open_ble("Treadle box", scan_s=1, backoff=QUICK).events()) as events:
                assert isinstance(await anext(events), Connected)
                await system.send_text(sensor, lines(0, 2))
                assert text_of([await anext(events)])
            assert (sensor.path, "Connect") not in system.calls

    run(play)


def test_cancelling_disconnects(bus: str) -> None:
    async def play() -> None:
        sensor = board()
        async with playing(StandIn(sensor), bus) as system:

            async def listen() -> None:
                async with aclosing(open_ble("Treadle box", scan_s=2).events()) as events:
                    async for _ in events:
                        pass

            task = asyncio.create_task(listen())
            await system.until_listening(sensor)
            task.cancel()
            with pytest.raises(asyncio.CancelledError):
                await task
            assert not sensor.connected

    run(play)


def test_commands_reach_the_board_in_pieces_that_fit(bus: str) -> None:
    async def play() -> None:
        sensor = board()
        source = open_ble("Treadle box", scan_s=2)
        async with playing(StandIn(sensor), bus), aclosing(source.events()) as events:
            with pytest.raises(SourceUnavailable, match="not connected"):
                await source.send(b"hello\n")
            await anext(events)
            await source.send(b"settle w 3000 and some more\n")
            assert sensor.written == [b"settle w 3000 and so", b"me more\n"]

    run(play)


def test_an_own_characteristic_is_used_when_it_is_the_only_one_and_can_be_named(bus: str) -> None:
    one, two = "a0a00001-0000-4000-8000-000000000001", "a0a00002-0000-4000-8000-000000000001"

    async def play() -> None:
        lone = Sensor("Lone", "C0:FF:EE:00:00:04", {one: {one: ("notify",)}, "180f": {"2a19": ("notify",)}})
        many = Sensor("Many", "C0:FF:EE:00:00:05", {one: {one: ("notify",), two: ("notify",)}})
        async with playing(StandIn(lone, many), bus) as system:
            async with aclosing(open_ble("Lone", scan_s=2).events()) as events:
                await anext(events)
                await system.notify(lone, one, b"w,1\n")
                event = await anext(events)
                assert text_of([event]) == b"w,1\n", event
            with pytest.raises(SourceUnavailable, match=f"notify=.*{one}, {two}"):
                await anext(open_ble("Many", scan_s=2).events())
            async with aclosing(open_ble(f"Many?notify={two}", scan_s=2).events()) as events:
                await anext(events)
                assert list(many.notifying) == [many.path_of(two)]
            with pytest.raises(SourceUnavailable, match="no notifying characteristic 0000ff09"):
                await anext(open_ble("Many?notify=ff09", scan_s=2).events())

    run(play)


def test_find_lists_what_is_heard_with_how_to_use_it(bus: str) -> None:
    async def play() -> None:
        spoke = Sensor("Spoke", "C0:FF:EE:00:00:02", CSC, advertised=("1816",))
        box = board(advertised=tuple(UART))
        asleep = Sensor("Asleep", "C0:FF:EE:00:00:07", CSC, in_range=False)
        async with playing(StandIn(spoke, box, asleep), bus):
            found = await scan(0.3)
        assert {sensor.name for sensor in found} == {"Spoke", "Treadle box"}
        by_name = {sensor.name: sensor for sensor in found}
        assert isinstance(by_name["Spoke"], FoundSensor)
        assert by_name["Spoke"].rssi == -60
        assert "csc:Spoke@w" in by_name["Spoke"].hint
        assert "'ble:Treadle box'" in by_name["Treadle box"].hint

    async def off() -> None:
        async with playing(StandIn(powered=False), bus):
            with pytest.raises(SourceUnavailable, match="turned off"):
                await scan(0.1)

    run(play)
    run(off)


@pytest.mark.parametrize("text", ["", "?silence=3", "Box?loud=1", "Box?silence=never", "Box?notify=zz"])
def test_addresses_that_cannot_be_read_are_refused(text: str) -> None:
    async def play() -> None:
        source = open_ble(text)
        await anext(source.events())

    if "notify" in text:
        with pytest.raises(SourceUnavailable, match="no UUID"):
            full_uuid("zz")
        return
    with pytest.raises(SourceUnavailable):
        run(play)


def test_the_names_of_the_serial_line_service_are_the_ones_in_use() -> None:
    """UUIDs of the widely used serial-line service, as its documentation gives them."""
    assert FROM_BOARD.startswith("6e400003")
    assert TO_BOARD.startswith("6e400002")
