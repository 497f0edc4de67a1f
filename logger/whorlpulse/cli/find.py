"""`whorlpulse find`: the serial ports and Bluetooth LE sensors that can be recorded from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from .exits import CANNOT_SAY
from .show import say

if TYPE_CHECKING:
    from whorlpulse.sources.ble import FoundSensor
    from whorlpulse.views.found import Found


def find(
    ports_only: Annotated[
        bool, typer.Option("--ports-only", help="List serial ports only; spares the seconds of listening.")
    ] = False,
    for_text: Annotated[
        str, typer.Option("--for", metavar="TIME", help="How long to listen for Bluetooth LE sensors.")
    ] = "6 s",
) -> None:
    """List serial ports and Bluetooth LE sensors for `record --from`."""
    from whorlpulse.sources.ports import find_ports, permission_hint
    from whorlpulse.views.found import Found, found_text

    from .record import _seconds

    seconds = _seconds(for_text)
    ports = find_ports()
    hints = []
    if not any(port.allowed for port in ports):
        why = "A port is there, but it may not be opened" if ports else "A board that is plugged in and not listed"
        hints.append(f"{why}: {permission_hint()}.")
    sensors = None if ports_only else _sensors(seconds, hints)
    say(
        found_text(
            [Found(f"serial:{port.path}", port.says, port.allowed) for port in ports],
            sensors,
            hints,
        )
    )
    if not any(port.allowed for port in ports) and not sensors:
        raise typer.Exit(CANNOT_SAY)


def _sensors(seconds: float, hints: list[str]) -> list[Found]:
    """Listen for sensors; where Bluetooth cannot be used, the reason goes to the hints."""
    from whorlpulse.sources.ble import CSC_SERVICE, UART_SERVICE, scan
    from whorlpulse.sources.events import SourceUnavailable
    from whorlpulse.views.found import Found

    from .early_ctrl_c import until_done
    from .progress import Progress

    try:
        with Progress("listening for Bluetooth LE sensors"):
            heard = until_done(scan(seconds))
    except SourceUnavailable as unavailable:
        hints.append(f"No Bluetooth: {unavailable}")
        return []
    # what certainly can be used goes first; other devices may still send lines in their own way
    ours = {CSC_SERVICE, UART_SERVICE}
    heard.sort(key=lambda sensor: (not ours & set(sensor.services), -sensor.rssi))
    return [Found(_source(sensor), _says(sensor)) for sensor in heard]


def _source(sensor: FoundSensor) -> str:
    """Return the text for --from: by name where it can be written there, else by address."""
    from whorlpulse.sources.ble import CSC_SERVICE

    name = sensor.name.strip()
    plain = bool(name) and name.isprintable() and not set(name) & set("?&,@")
    return f"{'csc' if CSC_SERVICE in sensor.services else 'ble'}:{name if plain else sensor.address}"


def _says(sensor: FoundSensor) -> str:
    from whorlpulse.sources.ble import CSC_SERVICE, UART_SERVICE

    kind = ""
    if CSC_SERVICE in sensor.services:
        kind = ", speed and cadence: add @w when it is on the wheel, @f on the flyer"
    elif UART_SERVICE in sensor.services:
        kind = ", sends lines"
    return f"{sensor.address}, {sensor.rssi} dBm{kind}"
