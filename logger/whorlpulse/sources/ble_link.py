"""A link to one Bluetooth LE sensor: found, connected, listened to, and let go of in every case.

What bleak and the systems under it need, learnt the hard way by many: one scan at a time, ended before a
connection is made; a device from a scan and not a bare address; a disconnect after every loss, or descriptors
leak; a watch on silence, because a dead Bluetooth service reports nothing; nothing but a stamp and a queue in
the callback.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from bleak import BleakAdapter, BleakClient, BleakScanner
from bleak.args.bluez import BlueZAdapterArgs, BlueZClientArgs, BlueZScannerArgs
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData
from bleak.backends.service import BleakGATTServiceCollection
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakCharacteristicNotFoundError,
    BleakDBusError,
    BleakError,
)

from whorlpulse.sources.events import Arrived, SourceUnavailable
from whorlpulse.sources.inbox import Inbox

#: What bleak raises when something is wrong outside this program.
FAULTS: Final = (BleakError, TimeoutError, OSError, EOFError)
#: The system needs up to 2.6 s to take a link down (measured); a dead one would take ten.
_DISCONNECT_S: Final = 5.0
_CONNECT_S: Final = 15.0
_SMALLEST_PAYLOAD: Final = 20


@dataclass(frozen=True)
class Wanted:
    """Which sensor, and how to listen to it.

    who: its name or address (on macOS an identifier of the system's own). services: one of them lets a sensor be
    recognised that is still connected from before. choose: picks the characteristic to listen to, and one to write
    to or None; raises SourceUnavailable when the device is the wrong one. silence_s: silence after which the link
    counts as lost, None for never. adapter: on Linux, which adapter (`hci0`), None for the system's choice.
    """

    who: str
    services: tuple[str, ...]
    choose: Callable[[BleakGATTServiceCollection], tuple[BleakGATTCharacteristic, BleakGATTCharacteristic | None]]
    silence_s: float | None = 20.0
    scan_s: float = 15.0
    adapter: str | None = None


class BleLine:
    """A sensor that is connected and notifies."""

    def __init__(
        self,
        client: BleakClient,
        name: str,
        inbox: Inbox,
        silence_s: float | None,
        write_to: BleakGATTCharacteristic | None,
    ) -> None:
        self.name = name
        self._client = client
        self._inbox = inbox
        self._silence_s = silence_s
        self._write_to = write_to

    async def receive(self) -> Arrived:
        """Return the next notification; raises SourceUnavailable once the link is lost, or silent for too long."""
        try:
            async with asyncio.timeout(self._silence_s):
                chunk = await self._inbox.take()
        except TimeoutError:
            raise SourceUnavailable(f"{self.name} said nothing for {self._silence_s:g} s") from None
        if chunk is None:
            raise SourceUnavailable(f"the link to {self.name} was closed")
        return chunk

    async def send(self, data: bytes) -> None:
        """Write bytes to the sensor in pieces that fit; raises SourceUnavailable where it takes none."""
        if self._write_to is None:
            raise SourceUnavailable(f"{self.name} takes no commands")
        quick = "write-without-response" in self._write_to.properties
        size = self._write_to.max_write_without_response_size if quick else _SMALLEST_PAYLOAD
        try:
            for start in range(0, len(data), max(size, _SMALLEST_PAYLOAD)):
                piece = data[start : start + max(size, _SMALLEST_PAYLOAD)]
                await self._client.write_gatt_char(self._write_to, piece, response=not quick)
        except FAULTS as fault:
            raise SourceUnavailable(f"{self.name} takes no bytes: {words(fault)}") from fault

    async def close(self) -> None:
        """Take the link down; harmless when it is gone."""
        await _let_go(self._client)


class Finder:
    """Connects to a wanted sensor, time and again; the sensor found first stays the one that is meant."""

    def __init__(self, wanted: Wanted, radio: asyncio.Lock | None = None) -> None:
        """radio: held while scanning and connecting; share it between sensors."""
        self._wanted = wanted
        self._radio = radio or asyncio.Lock()
        self._attempt = 0
        self._address: str | None = None

    async def connect(self) -> BleLine:
        """Find, connect and listen; raises SourceUnavailable, one line: what, where, what to do."""
        async with self._radio:
            self._attempt += 1
            try:
                device = await self._still_connected() or await self._scanned()
            except FAULTS as fault:
                raise SourceUnavailable(why_not(self._wanted.who, fault)) from fault
            if device is None:
                raise SourceUnavailable(
                    f"{self._wanted.who} was not found in {self._wanted.scan_s:g} s: turn the wheel to wake it, bring "
                    "it near, close other programs that hold it; `whorlpulse find` lists what is heard"
                )
            line = await self._listen(device)
            self._address = device.address
            return line

    async def _still_connected(self) -> BLEDevice | None:
        """A device that is connected does not advertise: a program that was killed leaves one so.

        The system's list can be wrong after its service died, so every other attempt goes without.
        """
        if self._attempt % 2 == 0 or not self._wanted.services:
            return None
        try:
            args: BlueZAdapterArgs = {"adapter": self._wanted.adapter} if self._wanted.adapter else {}
            adapter = await BleakAdapter.get(bluez=args)
            devices = await adapter.get_connected_devices(list(self._wanted.services))
        except BleakBluetoothNotAvailableError:
            raise
        except (NotImplementedError, *FAULTS):  # systems that cannot say; the scan will tell what is wrong
            return None
        return next((device for device in devices if self._is_meant(device, None)), None)

    async def _scanned(self) -> BLEDevice | None:
        found: asyncio.Future[BLEDevice] = asyncio.get_running_loop().create_future()
        namesake: list[BLEDevice] = []

        def seen(device: BLEDevice, heard: AdvertisementData) -> None:
            if found.done() or not self._is_meant(device, heard.local_name):
                return
            if self._address in (None, device.address):
                found.set_result(device)
            else:  # its address may be a passing one, or this is another of the same name: wait for the known one
                namesake.append(device)

        args: BlueZScannerArgs = {"adapter": self._wanted.adapter} if self._wanted.adapter else {}
        async with BleakScanner(seen, bluez=args):
            try:
                async with asyncio.timeout(self._wanted.scan_s):
                    return await found
            except TimeoutError:
                return namesake[-1] if namesake else None

    async def _listen(self, device: BLEDevice) -> BleLine:
        wanted, inbox = self._wanted, Inbox()
        name = shown_name(device)
        args: BlueZClientArgs = {"adapter": wanted.adapter} if wanted.adapter else {}
        client = BleakClient(
            device,
            disconnected_callback=lambda _: inbox.end(SourceUnavailable(f"the link to {name} was lost")),
            timeout=_CONNECT_S,
            bluez=args,
        )
        try:
            async with asyncio.timeout(_CONNECT_S + _DISCONNECT_S):  # some systems hang beyond their own limit
                await client.connect()
                listen_to, write_to = wanted.choose(client.services)
                await client.start_notify(listen_to, lambda _, data: inbox.put(Arrived.now(bytes(data))))
        except BaseException as fault:
            await _let_go(client)
            if isinstance(fault, FAULTS):
                raise SourceUnavailable(why_not(wanted.who, fault)) from fault
            raise
        return BleLine(client, name, inbox, wanted.silence_s, write_to)

    def _is_meant(self, device: BLEDevice, heard_name: str | None) -> bool:
        who = self._wanted.who.casefold()
        names = {name.casefold() for name in (device.name, heard_name, device.address) if name}
        return who in names or device.address == self._address


def shown_name(device: BLEDevice) -> str:
    """Return how a device is shown on one line: its name and address."""
    name = "".join(c if c.isprintable() else "?" for c in device.name or "").strip()
    return f"{name} ({device.address})" if name else device.address


def why_not(who: str, fault: BaseException) -> str:
    """Return one line for a fault on the way to a sensor: what, where, what to do."""
    if isinstance(fault, BleakBluetoothNotAvailableError):
        reason = BleakBluetoothNotAvailableReason
        return {
            reason.POWERED_OFF: "Bluetooth is turned off: turn it on and try again",
            reason.NO_BLUETOOTH: "this computer has no Bluetooth adapter: plug one in, or use another source",
            reason.NO_BLE_CENTRAL_ROLE: "this computer's Bluetooth knows no Low Energy: plug in a newer adapter",
            reason.DENIED_BY_USER: "Bluetooth was refused to this program: allow it in the system's privacy settings",
            reason.DENIED_BY_SYSTEM: "the system does not let this user use Bluetooth: ask who looks after it",
            reason.DENIED_BY_UNKNOWN: "Bluetooth was refused to this program: look at the system's privacy settings",
        }.get(fault.reason, f"Bluetooth cannot be used: {words(fault)}")
    if isinstance(fault, BleakCharacteristicNotFoundError):
        return f"{who} is the wrong device: it has no characteristic {fault.char_specifier}"
    if isinstance(fault, FileNotFoundError | ConnectionRefusedError):
        return "the system's message bus cannot be reached, and with it Bluetooth: is the Bluetooth service installed?"
    if isinstance(fault, BleakDBusError) and fault.dbus_error.endswith(("ServiceUnknown", "NameHasNoOwner")):
        return "the system's Bluetooth service does not run: start it (on Linux: systemctl start bluetooth)"
    if isinstance(fault, BleakDBusError) and fault.dbus_error.endswith("AccessDenied"):
        return "this user may not talk to the Bluetooth service: on some systems the group `bluetooth` may"
    if isinstance(fault, TimeoutError):
        return f"{who} did not answer: bring it nearer, wake it, and close other programs that hold it"
    return f"{who} cannot be reached: {words(fault)}"


def words(fault: BaseException) -> str:
    """Return a fault's own words on one line."""
    return " ".join(str(fault).split()) or type(fault).__name__


async def _let_go(client: BleakClient) -> None:
    """Disconnect, always: without it each loss leaves a descriptor open."""
    with contextlib.suppress(*FAULTS, AssertionError):
        async with asyncio.timeout(_DISCONNECT_S):
            await client.disconnect()
