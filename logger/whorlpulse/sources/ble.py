"""A board that sends pulse lines by Bluetooth LE: the bytes of its notifications, as they come.

The default is the service that most small boards use to carry a serial line over notifications; any other
notifying characteristic can be named. `scan` lists what is heard, for `find`.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from bleak import BleakScanner
from bleak.args.bluez import BlueZScannerArgs
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData
from bleak.backends.service import BleakGATTServiceCollection

from whorlpulse.sources.ble_link import FAULTS, Finder, Wanted, why_not
from whorlpulse.sources.events import SourceUnavailable
from whorlpulse.sources.reconnect import Backoff, Line, Reconnecting

#: The widely used serial-line service: its notifications carry what the board sends, writes what it is sent.
UART_SERVICE: Final = "6e400001-b5a3-f393-e0a9-e50e24dcca9e"
UART_FROM_BOARD: Final = "6e400003-b5a3-f393-e0a9-e50e24dcca9e"
UART_TO_BOARD: Final = "6e400002-b5a3-f393-e0a9-e50e24dcca9e"
CSC_SERVICE: Final = "00001816-0000-1000-8000-00805f9b34fb"

#: A board sends a keep-alive once a second, so this much silence is a dead link.
_SILENCE_S: Final = 10.0
#: Gentler than a serial port's: every attempt is a scan, and scans disturb the radio's other links.
BLE_BACKOFF: Final = Backoff(first_s=0.5, factor=1.6, longest_s=30.0)
_ASSIGNED: Final = re.compile(r"0000[0-9a-f]{4}-0000-1000-8000-00805f9b34fb")


@dataclass(frozen=True, slots=True)
class FoundSensor:
    """A device that was heard. rssi: received strength in dBm; services: as it advertised them; hint: how to use it."""

    name: str
    address: str
    rssi: int
    services: tuple[str, ...]
    hint: str


def open_ble(text: str, *, backoff: Backoff = BLE_BACKOFF, scan_s: float = 15.0) -> Reconnecting:
    """Return the source for `NAME|ADDRESS[?notify=UUID][&silence=SECONDS][&adapter=hci0]`, not reached yet.

    notify: the characteristic to listen to; silence: seconds without a byte after which the link counts as lost
    (10; 0: never). Raises SourceUnavailable for an option that cannot be read.
    """
    who, options = read_address(text, ("notify", "silence", "adapter"))
    notify = options.get("notify")
    wanted = Wanted(
        who,
        (UART_SERVICE,),
        lambda services: _choose(who, services, full_uuid(notify) if notify else None),
        read_silence(options, _SILENCE_S),
        scan_s,
        options.get("adapter"),
    )
    finder = Finder(wanted)

    async def connect() -> Line:
        return await finder.connect()

    return Reconnecting(f"ble:{who}", connect, backoff)


async def scan(seconds: float = 6.0, adapter: str | None = None) -> list[FoundSensor]:
    """Return the Bluetooth LE devices heard within so many seconds, the strongest first.

    Raises SourceUnavailable when Bluetooth cannot be used.
    """
    heard: dict[str, tuple[BLEDevice, AdvertisementData]] = {}

    def seen(device: BLEDevice, data: AdvertisementData) -> None:
        heard[device.address] = (device, data)

    args: BlueZScannerArgs = {"adapter": adapter} if adapter else {}
    try:
        async with BleakScanner(seen, bluez=args):
            await asyncio.sleep(seconds)
    except FAULTS as fault:
        raise SourceUnavailable(why_not("the Bluetooth adapter", fault)) from fault
    found = [
        FoundSensor(
            device.name or data.local_name or "",
            device.address,
            data.rssi,
            tuple(sorted(data.service_uuids)),
            _hint(device.name or data.local_name or device.address, data.service_uuids),
        )
        for device, data in heard.values()
    ]
    return sorted(found, key=lambda sensor: (-sensor.rssi, sensor.address))


def read_address(text: str, known: tuple[str, ...]) -> tuple[str, Mapping[str, str]]:
    """Return the name or address and the options of `NAME?key=value&key=value`."""
    who, question, rest = text.partition("?")
    options: dict[str, str] = {}
    for part in rest.split("&") if question else ():
        key, equals, value = part.partition("=")
        if key not in known or not equals or not value:
            raise SourceUnavailable(f"{part!r} is no option here: after ? come {', '.join(f'{k}=...' for k in known)}")
        options[key] = value
    if not who.strip():
        raise SourceUnavailable("a name or an address is missing: `whorlpulse find` lists what is heard")
    return who.strip(), options


def read_silence(options: Mapping[str, str], usual_s: float) -> float | None:
    """Return the seconds of silence to bear; None (from 0) means without end."""
    text = options.get("silence", str(usual_s))
    if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,3})?", text):
        raise SourceUnavailable(f"silence={text} is no number of seconds")
    return float(text) or None


def full_uuid(text: str) -> str:
    """Return a UUID in its long form; four hex digits are one of the standard's short ones."""
    if re.fullmatch(r"[0-9a-fA-F]{4}", text):
        return f"0000{text.lower()}-0000-1000-8000-00805f9b34fb"
    if re.fullmatch(r"[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}", text):
        return text.lower()
    raise SourceUnavailable(f"{text} is no UUID: write it as {UART_FROM_BOARD}, or as four hexadecimal digits")


def _choose(
    who: str, services: BleakGATTServiceCollection, notify: str | None
) -> tuple[BleakGATTCharacteristic, BleakGATTCharacteristic | None]:
    """Pick the characteristic to listen to: the one asked for, the serial line's, or the only one there is."""
    to_board = services.get_characteristic(UART_TO_BOARD)
    notifying = [c for c in services.characteristics.values() if {"notify", "indicate"} & set(c.properties)]
    for uuid in (notify,) if notify else (UART_FROM_BOARD,):
        chosen = [c for c in notifying if c.uuid == uuid]
        if chosen:
            return chosen[0], to_board
    if notify:
        raise SourceUnavailable(f"{who} has no notifying characteristic {notify}: is it the right device?")
    own = [c for c in notifying if not _ASSIGNED.fullmatch(c.uuid)]
    if len(own) == 1:
        return own[0], to_board
    if own:
        names = ", ".join(sorted(c.uuid for c in own))
        raise SourceUnavailable(f"{who} notifies in several ways: choose one with ?notify= and one of {names}")
    if any(service.uuid == CSC_SERVICE for service in services):
        raise SourceUnavailable(f"{who} sends no pulse lines: it is a speed-and-cadence sensor, use csc:{who}")
    raise SourceUnavailable(f"{who} is the wrong device: nothing on it sends lines")


def _hint(name: str, services: list[str]) -> str:
    if CSC_SERVICE in services:
        return f"speed and cadence: --from 'csc:{name}@w' on the wheel, @f on the flyer"
    if UART_SERVICE in services:
        return f"sends lines: --from 'ble:{name}'"
    return ""
