"""Ordinary speed-and-cadence sensors (Bluetooth SIG, Cycling Speed and Cadence Service 1.0) as a source of pulse lines.

One sensor on the wheel, or a combined one, or a second one on the flyer. Every payload goes into the log as it
came; beside it stand the pulse lines that it means, made by `wire.csc.lines`.
"""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import AsyncGenerator, AsyncIterator, Awaitable, Callable, Sequence
from dataclasses import dataclass
from typing import Final, cast

from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.service import BleakGATTServiceCollection

from whorlpulse.sources.ble import BLE_BACKOFF, CSC_SERVICE, read_address, read_silence
from whorlpulse.sources.ble_link import Finder, Wanted
from whorlpulse.sources.events import Arrived, Connected, Event, Lost, SourceUnavailable
from whorlpulse.sources.reconnect import Backoff, Line, Reconnecting
from whorlpulse.wire.csc.lines import CscLines, Frame, Silence

#: CSC Measurement, notified. It is never read: on some systems what was read arrives as a notification as well.
CSC_MEASUREMENT: Final = "00002a5b-0000-1000-8000-00805f9b34fb"
#: A standing sensor goes on notifying as a rule, but one that sends at events only may be silent for a while.
_SILENCE_S: Final = 60.0


@dataclass(frozen=True, slots=True)
class _Named:
    role: str
    who: str


_Item = tuple[str, Event] | Exception


class CscSource:
    """One or two sensors as one source: `Connected` and `Lost` name the sensor, `Arrived` holds whole log lines.

    brings_sync: its lines tie the log's clock to the host's; nobody else need.
    """

    brings_sync: Final = True

    def __init__(self, sensors: Sequence[_Named], links: Sequence[Reconnecting]) -> None:
        """Use `open_csc`."""
        self.name = "csc:" + ",".join(f"{sensor.who}@{sensor.role}" for sensor in sensors)
        self._roles = [sensor.role for sensor in sensors]
        self._links = links
        self._lines = CscLines(self._roles)

    async def events(self) -> AsyncIterator[Event]:
        """Yield what all sensors bring, in order of arrival, header first; ends only by being closed."""
        queue: asyncio.Queue[_Item] = asyncio.Queue()
        lines = self._lines = CscLines(self._roles)
        even_to_unix_s = time.time() - time.monotonic()  # one step of the host's clock must not move events
        tasks = [
            asyncio.create_task(_pump(role, link, queue)) for role, link in zip(self._roles, self._links, strict=True)
        ]
        try:
            headed = False
            while True:
                item = await queue.get()
                if isinstance(item, Exception):
                    raise item
                role, event = item
                host_s = round(event.at_s + even_to_unix_s, 6)
                if isinstance(event, Arrived):
                    yield Arrived(lines.feed(Frame(host_s, role, event.data)), event.at_s, event.unix_s)
                    continue
                yield event
                data = lines.silent(Silence(host_s, role)) if isinstance(event, Lost) else b""
                if isinstance(event, Connected) and not headed:
                    headed, data = True, lines.header()
                if data:
                    yield Arrived(data, event.at_s, event.unix_s)
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    def remaining(self) -> bytes:
        """Return the pulse lines that were still held back, once; ask when the recording ends."""
        return self._lines.finish()

    async def send(self, data: bytes) -> None:
        """Refuse: these sensors take no commands."""
        raise SourceUnavailable(f"{self.name} takes no commands")


def open_csc(text: str, *, backoff: Backoff = BLE_BACKOFF, scan_s: float = 20.0) -> CscSource:
    """Return the source for `NAME|ADDRESS[@w|@f][,NAME|ADDRESS@f][?silence=SECONDS][&adapter=hci0]`, not reached yet.

    @w: on the drive wheel; @f: on the flyer; neither: wheel counts are the drive wheel's and crank counts the
    flyer's. silence: seconds without a notification after which a link counts as lost (60; 0: never). Raises
    SourceUnavailable for what cannot be read.
    """
    names, options = read_address(text, ("silence", "adapter"))
    sensors = [_named(part) for part in names.split(",")]
    if len(sensors) > 1 and sorted(sensor.role for sensor in sensors) != ["f", "w"]:
        raise SourceUnavailable("two sensors must say where they sit: csc:NAME@w,NAME@f, w the wheel and f the flyer")
    if len({sensor.who.casefold() for sensor in sensors}) < len(sensors):
        raise SourceUnavailable("one sensor cannot sit in two places: two of the same name are told apart by address")
    radio = asyncio.Lock()
    links = []
    for sensor in sensors:
        wanted = Wanted(
            sensor.who,
            (CSC_SERVICE,),
            _chooser(sensor.who),
            read_silence(options, _SILENCE_S),
            scan_s,
            options.get("adapter"),
        )
        links.append(Reconnecting(f"csc:{sensor.who}", _connecting(Finder(wanted, radio)), backoff))
    return CscSource(sensors, links)


def _named(part: str) -> _Named:
    who, at, role = part.strip().rpartition("@")
    if not at:
        return _Named("wf", part.strip())
    if role not in ("w", "f") or not who:
        raise SourceUnavailable(f"{part!r}: after @ comes w for the drive wheel or f for the flyer")
    return _Named(role, who)


def _chooser(who: str) -> Callable[[BleakGATTServiceCollection], tuple[BleakGATTCharacteristic, None]]:
    def choose(services: BleakGATTServiceCollection) -> tuple[BleakGATTCharacteristic, None]:
        for service in services:
            if service.uuid == CSC_SERVICE:
                found = service.get_characteristic(CSC_MEASUREMENT)
                if found is not None:
                    return found, None
        raise SourceUnavailable(f"{who} is the wrong device: it has no cycling speed and cadence service")

    return choose


def _connecting(finder: Finder) -> Callable[[], Awaitable[Line]]:
    async def connect() -> Line:
        return await finder.connect()

    return connect


async def _pump(role: str, link: Reconnecting, queue: asyncio.Queue[_Item]) -> None:
    """Hand one sensor's events on; the generator is closed when this task is cancelled, which takes the link down."""
    async with contextlib.aclosing(cast(AsyncGenerator[Event, None], link.events())) as events:
        try:
            async for event in events:
                queue.put_nowait((role, event))
        except Exception as fault:  # whoever reads the queue must not wait for a task that has ended
            queue.put_nowait(fault)
