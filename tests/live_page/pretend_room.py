"""A room for the page's tests: invented wheels whose figures follow from the clock, none of them measured.

Not the engine: it plays documents of the right shape, plausible enough to look at, so that the page and its server
can be tested by themselves. Everything in it says that it is simulated.
"""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator, Callable
from math import pi, sin
from typing import Any

from whorlpulse.live_page.room import ACTIONS

_INCHES = 39.37007874
_TWIST = 5.20


def figure(value: float | None, decimals: int, unit: str, pm: float | None = None, why: str | None = None) -> Any:
    text = None if value is None else f"{value:.{decimals}f}"
    return {
        "text": text,
        "pm": None if pm is None or value is None else f"{pm:.{decimals}f}",
        "unit": unit,
        "value": value,
        "why": why,
    }


class PretendWheel:
    """One invented wheel at a moment; `soft` says from when to when its yarn is under the plan."""

    def __init__(self, number: int, name: str, *, planned: bool = True) -> None:
        self.number, self.name, self.planned = number, name, planned
        self.state = "turning"
        self.says: str | None = None
        self.bursts: list[dict[str, Any]] = []
        self.marks: list[dict[str, Any]] = []
        self.soft = False
        self.pace: float | None = None
        self.lost = 0
        self.ratio_decimals = 3

    def cadence(self, t_s: float) -> float:
        return 61.0 + 3.0 * sin(t_s / 17.0 + self.number) + 1.1 * sin(t_s / 3.1) + 0.4 * sin(5.0 * t_s)

    def ratio(self, t_s: float) -> float:
        dip = 0.22 if any(0.0 <= t_s - burst["t_s"] < 3.0 for burst in self.bursts) else 0.0
        return 6.193 + 0.012 * sin(t_s / 5.3 + self.number) - dip

    def twist(self, t_s: float) -> float:
        return (4.4 if self.soft else _TWIST) + 0.13 * sin(t_s / 7.7) + 0.05 * sin(t_s / 1.9)

    def document(self, t_s: float, *, full: bool = True) -> dict[str, Any]:
        cadence, ratio, twist = self.cadence(t_s), self.ratio(t_s), self.twist(t_s)
        wheel = t_s * 61.0 / 60.0
        now = {
            "id": str(self.number),
            "name": self.name,
            "simulated": True,
            "state": self.state,
            "says": self.says,
            "pulses": {"w": int(wheel * 4), "f": int(wheel * 6.19), "y": 0, "b": 0},
            "lost": self.lost,
            "damaged": 0,
            "pulses_text": f"{int(wheel * 10.19)} pulses, " + (f"{self.lost} lost" if self.lost else "none lost"),
            "cadence": figure(cadence, 1, "turns/min", 0.4),
            "ratio": figure(ratio, self.ratio_decimals, ": 1", 2 * 10.0**-self.ratio_decimals),
            "flyer": figure(cadence * ratio, 0, "turns/min", 3),
            "twist_tpi": figure(twist, 2, "tpi", 0.05),
            "twist_tpm": figure(twist * _INCHES, 0, "tpm", 2),
            "length": figure(wheel * 0.03, 2, "m", 0.02),
            "loss": figure(None, 1, "%", why="Loss needs a reference: give the ratio that the wheel has without load."),
            "pace": None if self.pace is None else self._pace(cadence),
            "plan": self._plan(twist) if self.planned else None,
            "profile": self._profile(t_s),
        }
        if not full:
            return now
        return {
            **now,
            "strip": self._strip(t_s),
            "bursts": self.bursts,
            "marks": self.marks,
            "totals": self._totals(t_s, wheel),
        }

    def _pace(self, cadence: float) -> dict[str, Any]:
        assert self.pace is not None
        off = cadence - self.pace
        cue = "with it" if abs(off) < 2 else "slower" if off > 0 else "faster"
        return {"per_min": self.pace, "text": f"{self.pace:.0f}", "cue": cue}

    def _plan(self, twist: float) -> dict[str, Any]:
        verdict = "under" if twist < 4.68 else "over" if twist > 5.72 else "on-plan"
        says = "Softer than planned: draw 2.6 cm per treadle instead of 3.1." if verdict == "under" else None
        place = (twist - 4.68) / (5.72 - 4.68)
        return {
            "twist": "5.20 tpi (205 tpm)",
            "from": "4.68",
            "to": "5.72",
            "place": place,
            "verdict": verdict,
            "says": says,
        }

    def _profile(self, t_s: float) -> dict[str, Any]:
        angles = [k / 24 for k in range(24)]
        speed = [1 + 0.07 * sin(2 * pi * a + self.number) + 0.025 * sin(4 * pi * a + 1) for a in angles]
        text = "Fastest, 9 % above the mean, at 0.20 of a turn; slowest, 8 % below it, at 0.71."
        return {"angle_turns": angles, "speed": speed, "turns": 12, "angle_now": t_s * 61 / 60 % 1, "text": text}

    def _strip(self, t_s: float) -> dict[str, Any]:
        times = [t_s - 180 + 1.5 * k for k in range(121) if t_s - 180 + 1.5 * k >= 0] or [t_s]
        return {
            "t_s": times,
            "cadence_per_min": [self.cadence(t) for t in times],
            "ratio": [self.ratio(t) for t in times],
            "twist_tpi": [self.twist(t) if k > 4 else None for k, t in enumerate(times)],
            "seconds": 180,
            "text": "Cadence from 57 to 65 a minute; ratio near 6.19; twist near 5.2 tpi in the last three minutes.",
        }

    def _totals(self, t_s: float, wheel: float) -> dict[str, Any]:
        return {
            "measured_to": f"{int(t_s // 60)}:{int(t_s % 60):02d}",
            "ratio": figure(6.1931, 4, ": 1", 0.0004),
            "cadence": figure(61.02, 2, "turns/min", 0.11),
            "twist_tpi": figure(5.194, 3, "tpi", 0.012),
            "twist_tpm": figure(204.5, 1, "tpm", 0.5),
            "length": figure(wheel * 0.03, 2, "m", 0.02),
            "loss": figure(1.2, 1, "%", 0.4),
            "wheel_turns": f"{wheel:.1f}",
            "flyer_turns": f"{wheel * 6.193:.1f}",
            "notes": ["Invented figures for a test of the page."],
        }


class PretendRoom:
    """A room that says something new ten times a second. acts: what was asked of it."""

    def __init__(self, wheels: list[PretendWheel], now: Callable[[], float], every_s: float = 0.1) -> None:
        self.wheels, self._now, self._every_s = wheels, now, every_s
        self.ended = False
        self.acts: list[tuple[str, str, str]] = []

    def _document(self, full: bool) -> str:
        t_s = self._now()
        return json.dumps(
            {"schema": 1, "ended": self.ended, "wheels": [w.document(t_s, full=full) for w in self.wheels]}
        )

    def whole(self) -> str:
        return self._document(True)

    async def changes(self) -> AsyncIterator[str]:
        count = 0
        while True:
            ended = self.ended
            yield self._document(count % 5 == 0)
            if ended:
                return
            count += 1
            await asyncio.sleep(self._every_s)

    async def act(self, wheel: str, action: str, text: str) -> str | None:
        assert action in ACTIONS
        found = next((w for w in self.wheels if str(w.number) == wheel), None)
        if found is None:
            return "There is no such wheel in this room."
        self.acts.append((wheel, action, text))
        if action in ("pause", "resume"):
            found.state = "paused" if action == "pause" else "turning"
        elif action == "length" and not text.endswith(("cm", "m")):
            return "A length needs a unit: for example 35 cm."
        elif action in ("mark", "note"):
            found.marks.append({"t_s": self._now(), "text": text or "mark"})
        elif action == "pace":
            try:
                found.pace = float(text)
            except ValueError:
                return "A pace is wheel turns a minute: for example 60."
        return None


def wheel_room(*names: str, begun_s: float = 150.0, every_s: float = 0.1) -> PretendRoom:
    """A room of wheels that have been turning for a while."""
    since = time.monotonic() - begun_s
    wheels = [PretendWheel(k + 1, name) for k, name in enumerate(names)]
    return PretendRoom(wheels, lambda: time.monotonic() - since, every_s)
