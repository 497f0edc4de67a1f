"""The text after `--from`, read: which source it means."""

from __future__ import annotations

import re
from typing import Final

from whorlpulse.sources.events import Source, SourceUnavailable

#: What can stand after `--from`, one line each, for a list.
KINDS: Final = {
    "serial:PORT[@BAUD]": "a board on a serial port (115200 baud unless said)",
    "serial:auto": "the one board that answers",
    "ble:NAME or ble:ADDRESS": "a board that sends pulse lines by Bluetooth LE",
    "csc:NAME or csc:ADDRESS": "a Bluetooth LE speed-and-cadence sensor",
    "-": "pulse lines on standard input",
    "sim:SCENARIO[@SPEED]": "a simulated board",
}


async def open_source(text: str) -> Source:
    """Return the source that a text such as `serial:/dev/ttyUSB0@115200` names; raises SourceUnavailable.

    A port or sensor is reached only when its events are asked for; `serial:auto` listens to the ports at once.
    """
    kind, colon, rest = text.partition(":")
    if text == "-":
        from whorlpulse.sources.standard_input import StandardInput

        return StandardInput()
    if not colon or not rest or kind not in ("serial", "ble", "csc", "sim"):
        port = re.fullmatch(r"COM[0-9]+|/dev/[^@]+", text, re.IGNORECASE)
        hint = f"serial:{text} for that port, or one of " if port else ""
        raise SourceUnavailable(f"{text!r} names no source: give {hint}{', '.join(KINDS)}")
    if kind == "serial":
        return await _serial(rest)
    if kind == "sim":
        return _simulated(rest)
    if kind == "ble":
        from whorlpulse.sources.ble import open_ble

        return open_ble(rest)
    from whorlpulse.sources.csc import open_csc

    return open_csc(rest)


async def _serial(rest: str) -> Source:
    from whorlpulse.sources.answering import answering_port
    from whorlpulse.sources.serial import BAUD, open_serial

    found = re.fullmatch(r"(.+)@([0-9]{1,8})", rest)
    port, baud = (found[1], int(found[2])) if found else (rest, BAUD)
    if baud == 0:
        raise SourceUnavailable("0 baud cannot be: give a rate that the board uses, 115200 as a rule")
    return open_serial(await answering_port(baud=baud) if port == "auto" else port, baud)


def _simulated(rest: str) -> Source:
    from whorlpulse.sources.simulated import SimulatedSource

    name, at, speed = rest.partition("@")
    if at and not re.fullmatch(r"[0-9]+(\.[0-9]+)?", speed):
        raise SourceUnavailable(f"the speed {speed!r} is no number: write for example sim:{name}@10")
    return SimulatedSource(name, float(speed) if at else 1.0)
