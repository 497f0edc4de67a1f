"""What `find` found: each device with the text to give to `record --from`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

NO_PORTS: Final = "no serial port is there"
NO_SENSORS: Final = "no Bluetooth LE device is heard"


@dataclass(frozen=True)
class Found:
    """A device. source: what goes behind --from; says: what is known of it; usable: nothing keeps us from it."""

    source: str
    says: str
    usable: bool = True


def found_text(ports: Sequence[Found], sensors: Sequence[Found] | None, hints: Sequence[str]) -> str:
    """Return the list, ports first. sensors: None where they were not looked for; hints: what to do, one a line."""
    lines = _block("Serial ports", ports, NO_PORTS)
    if sensors is not None:
        lines += ["", *_block("Bluetooth LE", sensors, NO_SENSORS)]
    if hints:
        lines += ["", *hints]
    first = next((device for device in [*ports, *(sensors or ())] if device.usable), None)
    if first is not None:
        lines += ["", f"To record: whorlpulse record wheel.pulses --from {quoted(first.source)}"]
    return "\n".join(lines)


def quoted(source: str) -> str:
    """Return a source as it is typed in a shell: in quotes if it has a blank or another special letter in it."""
    plain = all(c.isalnum() or c in "-_./:@%+," for c in source)
    return source if plain else '"' + source.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _block(title: str, devices: Sequence[Found], none: str) -> list[str]:
    if not devices:
        return [f"{title}: {none}"]
    width = max(len(quoted(device.source)) for device in devices)
    return [title] + [
        f"  {quoted(d.source):<{width}}  {d.says}{'' if d.usable else ' (may not be opened)'}" for d in devices
    ]
