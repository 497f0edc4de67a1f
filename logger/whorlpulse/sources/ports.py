"""The serial ports of this computer: which there are, what hangs on them, and whether they may be opened."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from typing import Any

from serial.tools import list_ports


@dataclass(frozen=True)
class FoundPort:
    """A serial port. path: as the system names it; says: what the system knows of it; allowed: it may be opened."""

    path: str
    says: str
    usb: bool
    allowed: bool


@dataclass(frozen=True)
class UsbIdentity:
    """What stays the same when a USB board is plugged in again, wherever: maker's and product's number, serial."""

    vid: int
    pid: int
    serial_number: str | None
    location: str | None


def find_ports() -> list[FoundPort]:
    """Return the ports there are, those on USB first. A port that is no device at all is left out."""
    found = [
        FoundPort(port.device, _says(port), port.vid is not None, may_open(port.device))
        for port in list_ports.comports()
    ]
    return sorted(found, key=lambda port: (not port.usb, port.path))


def may_open(path: str) -> bool:
    """Say whether the user may read and write this device (always True on Windows, where no one is kept out)."""
    return os.name == "nt" or os.access(path, os.R_OK | os.W_OK)


def permission_hint(platform: str | None = None) -> str:
    """Return what to do on this system when a port may not be opened or none is seen."""
    platform = platform or sys.platform
    if platform.startswith("linux"):
        return (
            "on Linux the user must be in the port's group, dialout (uucp on some): "
            "`sudo usermod -aG dialout $USER`, then log out and in again"
        )
    if platform == "darwin":
        return (
            "on macOS use the port called /dev/cu.…, allow the accessory when the Mac asks (System Settings, "
            "Privacy & Security), and install the driver of the board's USB chip if no port appears"
        )
    if platform.startswith("win"):
        return (
            "on Windows look for the COM port in the Device Manager, close other programs that use it, and "
            "install the driver of the board's USB chip if it shows a warning sign"
        )
    return "check that your user may read and write the device"


def port_identity(path: str) -> UsbIdentity | None:
    """Return the identity of the USB device behind a port, None if there is none or it is not known."""
    real = os.path.realpath(path)
    for port in list_ports.comports():
        if os.path.realpath(port.device) == real:
            return _identity(port)
    return None


def come_back_as(path: str, identity: UsbIdentity | None) -> str:
    """Return the path under which a device is now: its old one, or another if it came back elsewhere.

    A system may give a board that was unplugged while its port was held a new number. Without a serial
    number the socket that it was plugged into must be the same.
    """
    if identity is None or os.path.exists(path) or os.name == "nt":
        return path
    for port in list_ports.comports():
        seen = _identity(port)
        if seen is None or (seen.vid, seen.pid, seen.serial_number) != (
            identity.vid,
            identity.pid,
            identity.serial_number,
        ):
            continue
        if identity.serial_number is not None or seen.location == identity.location:
            return str(port.device)
    return path


def _identity(port: Any) -> UsbIdentity | None:
    if port.vid is None or port.pid is None:
        return None
    return UsbIdentity(port.vid, port.pid, port.serial_number, port.location)


def _says(port: Any) -> str:
    """Return the system's description of a port on one line; what it does not know is left out."""
    words = [word.strip() for word in (port.description, port.manufacturer) if word and word != "n/a"]
    if port.vid is not None:
        words.append(f"USB {port.vid:04X}:{port.pid:04X}")
    if port.serial_number:
        words.append(f"serial number {port.serial_number}")
    text = ", ".join(dict.fromkeys(words))
    return " ".join("".join(c if c.isprintable() else " " for c in text).split()) or "no description"
