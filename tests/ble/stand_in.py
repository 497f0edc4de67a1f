"""A stand-in for the system's Bluetooth service: bleak's own Linux backend talks to it over a real message bus.

Real are bleak, its message bus library, the bus and its sockets; only the service behind the bus name, the kernel
and the radio are played. The order of its signals was taken from what bluetoothd 5.66 sends: on a connection
Connected, then the services' objects from the root path, then ServicesResolved, then the reply (where their UUIDs
come among these is from memory); on a lost link one
signal with both false; the objects of a device stay between connections; the end of a scan takes the signal
strength away; a client that leaves the bus ends its notifications but not the link. It cannot show loss on the air,
supervision time-outs, pairing, MTU negotiation or any real radio.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass, field

from dbus_fast import BusType, Message, MessageType, Variant
from dbus_fast.aio import MessageBus

ADAPTER = "/org/bluez/hci0"
DEVICE1, CHARACTERISTIC1, SERVICE1 = (f"org.bluez.{x}" for x in ("Device1", "GattCharacteristic1", "GattService1"))
PROPERTIES, OBJECTS = "org.freedesktop.DBus.Properties", "org.freedesktop.DBus.ObjectManager"

#: service UUID -> characteristic UUID -> flags
Services = Mapping[str, Mapping[str, tuple[str, ...]]]


def long_uuid(short: str) -> str:
    return f"0000{short}-0000-1000-8000-00805f9b34fb" if len(short) == 4 else short


CSC: Services = {"1816": {"2a5b": ("notify",), "2a5c": ("read",)}, "180f": {"2a19": ("read", "notify")}}
UART: Services = {
    "6e400001-b5a3-f393-e0a9-e50e24dcca9e": {
        "6e400003-b5a3-f393-e0a9-e50e24dcca9e": ("notify",),
        "6e400002-b5a3-f393-e0a9-e50e24dcca9e": ("write", "write-without-response"),
    },
    "180f": {"2a19": ("read", "notify")},
}
MEASUREMENT = long_uuid("2a5b")
FROM_BOARD = "6e400003-b5a3-f393-e0a9-e50e24dcca9e"
TO_BOARD = "6e400002-b5a3-f393-e0a9-e50e24dcca9e"


@dataclass
class Sensor:
    """A sensor as the room has it; the fields with defaults may be changed while it plays."""

    name: str
    address: str
    services: Services
    advertised: tuple[str, ...] = ()
    in_range: bool = True
    advertise_once: bool = False
    refuse: str | None = None  # name of the error with which connections fail
    mtu: int = 23
    known: bool = False
    connected: bool = False
    heard_in_scan: bool = False
    notifying: dict[str, str] = field(default_factory=dict)  # characteristic path -> bus name of the listener
    written: list[bytes] = field(default_factory=list)

    @property
    def path(self) -> str:
        return f"{ADAPTER}/dev_{self.address.replace(':', '_')}"

    def paths(self) -> dict[str, tuple[str, str, tuple[str, ...]]]:
        """Object path -> (interface, UUID, flags), in the order in which the service makes them."""
        found: dict[str, tuple[str, str, tuple[str, ...]]] = {}
        handle = 0x10
        for service, characteristics in self.services.items():
            service_path = f"{self.path}/service{handle:04x}"
            found[service_path] = (SERVICE1, long_uuid(service), ())
            for uuid, flags in characteristics.items():
                handle += 2
                found[f"{service_path}/char{handle:04x}"] = (CHARACTERISTIC1, long_uuid(uuid), flags)
            handle += 0x10
        return found

    def path_of(self, uuid: str) -> str:
        wanted = (CHARACTERISTIC1, uuid)
        return next(path for path, (interface, this, _) in self.paths().items() if (interface, this) == wanted)


class Refused(Exception):  # noqa: N818 - it is an answer, not a fault
    def __init__(self, name: str, text: str = "") -> None:
        super().__init__(name)
        self.name, self.text = name, text


class StandIn:
    """The service. Made with the sensors of the room; `start` takes the bus name."""

    def __init__(self, *sensors: Sensor, powered: bool = True, adapter: bool = True) -> None:
        self.sensors = {sensor.path: sensor for sensor in sensors}
        self.powered, self.adapter = powered, adapter
        self.calls: list[tuple[str, str]] = []
        self._scanners: set[str] = set()
        self._bus: MessageBus | None = None
        self._advertising: asyncio.Task[None] | None = None

    async def start(self, address: str) -> None:
        self._bus = await MessageBus(bus_address=address, bus_type=BusType.SYSTEM).connect()
        self._bus.add_message_handler(self._handle)
        await self._bus.request_name("org.bluez")
        await self._bus.call(
            Message(
                destination="org.freedesktop.DBus",
                path="/org/freedesktop/DBus",
                interface="org.freedesktop.DBus",
                member="AddMatch",
                signature="s",
                body=["type='signal',member='NameOwnerChanged'"],
            )
        )
        self._advertising = asyncio.create_task(self._advertise())

    async def die(self) -> None:
        """Go without a word, as a killed service does."""
        if self._advertising is not None:
            self._advertising.cancel()
            await asyncio.gather(self._advertising, return_exceptions=True)
            self._advertising = None
        if self._bus is not None:
            self._bus.disconnect()
            await self._bus.wait_for_disconnect()
            self._bus = None
        self._scanners.clear()
        for sensor in self.sensors.values():
            sensor.known = sensor.connected = False
            sensor.notifying.clear()

    # -- what a test does to the sensors

    async def notify(self, sensor: Sensor, uuid: str, payload: bytes) -> bool:
        """Send a notification, cut to what the link carries; False when nobody listens."""
        path = sensor.path_of(uuid)
        if not (sensor.connected and path in sensor.notifying):
            return False
        self._changed(path, CHARACTERISTIC1, {"Value": Variant("ay", payload[: sensor.mtu - 3])})
        await asyncio.sleep(0)
        return True

    async def send_text(self, sensor: Sensor, text: bytes) -> None:
        """Send bytes as a board does: in pieces of what the link carries, wherever they fall in a line."""
        for start in range(0, len(text), sensor.mtu - 3):
            assert await self.notify(sensor, FROM_BOARD, text[start : start + sensor.mtu - 3])
            await asyncio.sleep(0.001)  # a burst without pause would overrun the bus's socket

    def drop(self, sensor: Sensor) -> None:
        """Lose the link."""
        sensor.connected = False
        sensor.notifying.clear()
        off = Variant("b", False)
        self._changed(sensor.path, DEVICE1, {"ServicesResolved": off, "Connected": off})

    def forget(self, sensor: Sensor) -> None:
        """Take the device out of the service's list."""
        sensor.known = sensor.heard_in_scan = False
        for path, (interface, _, _) in reversed(sensor.paths().items()):
            self._signal("/", OBJECTS, "InterfacesRemoved", "oas", [path, [interface]])
        self._signal("/", OBJECTS, "InterfacesRemoved", "oas", [sensor.path, [DEVICE1]])

    def power(self, on: bool) -> None:
        """Turn the adapter off (which loses every link) or on."""
        if not on:
            for sensor in self.sensors.values():
                if sensor.connected:
                    self.drop(sensor)
            self._scanners.clear()
        self.powered = on
        self._changed(ADAPTER, "org.bluez.Adapter1", {"Powered": Variant("b", on)})

    async def until_listening(self, sensor: Sensor, seconds: float = 5.0) -> None:
        async with asyncio.timeout(seconds):
            while not sensor.notifying:
                await asyncio.sleep(0.005)

    # -- the bus

    def _handle(self, message: Message) -> bool | None:
        if message.member == "NameOwnerChanged":
            name, _, new = message.body
            if not new:
                self._scanners.discard(name)
                for sensor in self.sensors.values():
                    sensor.notifying = {p: n for p, n in sensor.notifying.items() if n != name}
            return None
        if message.message_type is not MessageType.METHOD_CALL or message.destination is None:
            return None
        task = asyncio.get_running_loop().create_task(self._answer(message))
        task.add_done_callback(lambda done: done.cancelled() or done.exception())
        return True

    async def _answer(self, message: Message) -> None:
        assert self._bus is not None
        self.calls.append((message.path or "", message.member or ""))
        try:
            signature, body = await self._do(message)
            reply = Message.new_method_return(message, signature, body)
        except Refused as refused:
            reply = Message.new_error(message, refused.name, refused.text)
        if self._bus is not None:
            await self._bus.send(reply)

    async def _do(self, message: Message) -> tuple[str, list[object]]:
        member, path = message.member, message.path or ""
        if member == "GetManagedObjects":
            return "a{oa{sa{sv}}}", [self._objects()]
        if path == ADAPTER:
            return self._adapter_call(message)
        sensor = next((s for s in self.sensors.values() if path.startswith(s.path) and s.known), None)
        if sensor is None:
            raise Refused("org.freedesktop.DBus.Error.UnknownObject", path)
        if member == "Connect":
            await self._connect(sensor)
        elif member == "Disconnect":
            await asyncio.sleep(0.01)
            if sensor.connected:
                self.drop(sensor)
        elif member == "StartNotify":
            sensor.notifying[path] = message.sender or ""
            self._changed(path, CHARACTERISTIC1, {"Notifying": Variant("b", True)})
        elif member == "StopNotify":
            sensor.notifying.pop(path, None)
        elif member == "WriteValue":
            sensor.written.append(bytes(message.body[0]))
        else:
            raise Refused("org.freedesktop.DBus.Error.UnknownMethod", str(member))
        return "", []

    def _adapter_call(self, message: Message) -> tuple[str, list[object]]:
        if not self.adapter:
            raise Refused("org.freedesktop.DBus.Error.UnknownObject")
        if not self.powered:
            raise Refused("org.bluez.Error.NotReady", "Resource Not Ready")
        if message.member == "StartDiscovery":
            if self._scanners:
                raise Refused("org.bluez.Error.InProgress", "Operation already in progress")
            self._scanners.add(message.sender or "")
            for sensor in self.sensors.values():
                sensor.heard_in_scan = False
        elif message.member == "StopDiscovery":
            self._scanners.discard(message.sender or "")
            for sensor in self.sensors.values():
                if sensor.known:
                    self._signal(sensor.path, PROPERTIES, "PropertiesChanged", "sa{sv}as", [DEVICE1, {}, ["RSSI"]])
        elif message.member != "SetDiscoveryFilter":
            raise Refused("org.freedesktop.DBus.Error.UnknownMethod")
        return "", []

    async def _connect(self, sensor: Sensor) -> None:
        if self._scanners:
            raise Refused("org.bluez.Error.InProgress", "a scan is running")
        if sensor.refuse is not None:
            raise Refused(sensor.refuse, "le-connection-refused")
        if not sensor.in_range:
            await asyncio.sleep(30)
            raise Refused("org.bluez.Error.Failed", "Page Timeout")
        sensor.connected = True
        self._changed(sensor.path, DEVICE1, {"Connected": Variant("b", True)})
        for path in sensor.paths():
            self._signal("/", OBJECTS, "InterfacesAdded", "oa{sa{sv}}", [path, self._object(sensor, path)])
        uuids = Variant("as", [long_uuid(u) for u in sensor.services])
        self._changed(sensor.path, DEVICE1, {"UUIDs": uuids})
        self._changed(sensor.path, DEVICE1, {"ServicesResolved": Variant("b", True)})

    async def _advertise(self) -> None:
        while True:
            await asyncio.sleep(0.03)
            for sensor in self.sensors.values() if self._scanners else ():
                if not sensor.in_range or sensor.connected or (sensor.advertise_once and sensor.heard_in_scan):
                    continue
                sensor.heard_in_scan = True
                if sensor.known:
                    self._changed(sensor.path, DEVICE1, {"RSSI": Variant("n", -60)})
                else:
                    sensor.known = True
                    body = [sensor.path, {DEVICE1: self._device(sensor, rssi=True)}]
                    self._signal("/", OBJECTS, "InterfacesAdded", "oa{sa{sv}}", body)

    def _objects(self) -> dict[str, dict[str, dict[str, Variant]]]:
        found: dict[str, dict[str, dict[str, Variant]]] = {"/org/bluez": {}}
        if self.adapter:
            roles = Variant("as", ["central", "peripheral"])
            found[ADAPTER] = {"org.bluez.Adapter1": {"Powered": Variant("b", self.powered), "Roles": roles}}
        for sensor in self.sensors.values():
            if sensor.known:
                found[sensor.path] = {DEVICE1: self._device(sensor, rssi=False)}
                if sensor.connected:
                    found |= {path: self._object(sensor, path) for path in sensor.paths()}
        return found

    def _device(self, sensor: Sensor, *, rssi: bool) -> dict[str, Variant]:
        uuids = [long_uuid(u) for u in (sensor.services if sensor.connected else sensor.advertised)]
        return {
            "Address": Variant("s", sensor.address),
            "Name": Variant("s", sensor.name),
            "Alias": Variant("s", sensor.name),
            "Adapter": Variant("o", ADAPTER),
            "UUIDs": Variant("as", uuids),
            "Connected": Variant("b", sensor.connected),
            "ServicesResolved": Variant("b", sensor.connected),
            "Paired": Variant("b", False),
        } | ({"RSSI": Variant("n", -60)} if rssi else {})

    def _object(self, sensor: Sensor, path: str) -> dict[str, dict[str, Variant]]:
        interface, uuid, flags = sensor.paths()[path]
        if interface == SERVICE1:
            device = Variant("o", sensor.path)
            return {SERVICE1: {"UUID": Variant("s", uuid), "Device": device, "Primary": Variant("b", True)}}
        return {
            CHARACTERISTIC1: {
                "UUID": Variant("s", uuid),
                "Service": Variant("o", path.rsplit("/", 1)[0]),
                "Flags": Variant("as", list(flags)),
                "Notifying": Variant("b", False),
                "MTU": Variant("q", sensor.mtu),
            }
        }

    def _changed(self, path: str, interface: str, values: Mapping[str, Variant]) -> None:
        self._signal(path, PROPERTIES, "PropertiesChanged", "sa{sv}as", [interface, dict(values), []])

    def _signal(self, path: str, interface: str, member: str, signature: str, body: list[object]) -> None:
        if self._bus is not None:
            self._bus.send(Message.new_signal(path, interface, member, signature, body))


@contextlib.asynccontextmanager
async def playing(stand_in: StandIn, address: str) -> AsyncIterator[StandIn]:
    await stand_in.start(address)
    try:
        yield stand_in
    finally:
        await stand_in.die()
