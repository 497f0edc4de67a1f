"""The room's JSON text, kept ready in parts: only what has changed is written again, and once for all viewers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Final

import msgspec

from whorlpulse.views.live_json import SCHEMA, profile_part, quick_parts, window_parts

if TYPE_CHECKING:
    from whorlpulse.findings.live import WheelNow

_encode = msgspec.json.Encoder().encode
#: Fields of a wheel that the parts of the window are made of.
_SLOW: Final = ("ratio", "twist_tpm", "loss", "plan", "strip", "bursts", "marks", "totals", "why")


class WheelDocument:
    """One wheel's parts: each key with its value, its JSON text, and the version with which it last changed."""

    def __init__(self, id: str) -> None:
        self._head = '"id":' + _encode(id).decode()
        self._values: dict[str, Any] = {}
        self._texts: dict[str, str] = {}
        self._changed: dict[str, int] = {}
        self._before: WheelNow | None = None

    def take(self, now: WheelNow, version: int) -> bool:
        """Take the wheel's newest state; return whether anything of it is new."""
        before, self._before = self._before, now
        parts = quick_parts(now)
        if before is None or any(getattr(before, name) != getattr(now, name) for name in _SLOW):
            parts |= window_parts(now)
        if before is None or before.profile != now.profile or _angle(before) != _angle(now):
            parts["profile"] = profile_part(now.profile, _angle(now))
        changed = False
        for key, value in parts.items():
            if key not in self._values or self._values[key] != value:
                self._values[key], self._changed[key] = value, version
                self._texts[key] = f'"{key}":{_encode(value).decode()}'
                changed = True
        return changed

    def since(self, version: int) -> str | None:
        """Return what has changed after a version, as a JSON object's text; None if nothing has."""
        parts = [text for key, text in self._texts.items() if self._changed[key] > version]
        return "{" + ",".join([self._head, *parts]) + "}" if parts else None


def _angle(now: WheelNow) -> float | None:
    """Where the wheel is, as finely as it is drawn; None where there is no shape to draw it in."""
    return None if now.angle_turns is None or now.profile is None else round(now.angle_turns, 2)


def room_text(documents: Iterable[WheelDocument], seen: int, *, ended: bool) -> str:
    """Return the room's JSON text: all of it (seen 0), or what has changed after version `seen`."""
    wheels = [text for d in documents if (text := d.since(seen)) is not None]
    return f'{{"schema":{SCHEMA},"ended":{"true" if ended else "false"},"wheels":[{",".join(wheels)}]}}'
