"""What is shown of a live wheel at this moment."""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

from whorlpulse.findings.live import State, WheelNow
from whorlpulse.findings.live_cues import pace_cue
from whorlpulse.findings.report import Note, note

if TYPE_CHECKING:
    from whorlpulse.actions.live_wheel import LiveWheel
    from whorlpulse.findings.live import Pace

_FEW_LINES: Final = 20


def wheel_now(wheel: LiveWheel, pace_before: Pace | None) -> WheelNow:
    """Return the wheel as it is now. pace_before: the cue that was shown last, so that it stays calm."""
    counts, course = wheel.figures, wheel.course
    state, says = state_now(wheel)
    w, f = wheel.targets("w"), wheel.targets("f")
    newest, length_m = course.figures, length_so_far(wheel)
    refused = newest is not None and newest.refused is not None
    per_min, flyer_per_min = (None, None) if refused else (counts.wheel_per_min(w), counts.flyer_per_min(f))
    ratio = newest.ratio if newest is not None else None
    twist = newest.twist.twist if newest is not None and newest.twist is not None else None
    return WheelNow(
        id=wheel.setup.id,
        name=wheel.setup.name,
        state=state,
        simulated=(counts.header.board or "").startswith("simulated"),
        says=says,
        pulses=dict(counts.pulses),
        lost=counts.lost,
        damaged=counts.damaged,
        wheel_per_min=per_min,
        flyer_per_min=flyer_per_min,
        ratio=ratio,
        twist_tpm=twist,
        length_m=length_m,
        loss=course.loss,
        why=_why(wheel, length_m),
        pace_per_min=course.pace_per_min,
        pace=pace_cue(pace_before, per_min, course.pace_per_min) if state == "turning" else None,
        plan=course.plan,
        profile=course.shape,
        angle_turns=counts.wheel_angle(w),
        strip=tuple(course.strip),
        bursts=course.bursts,
        marks=tuple((m.ticks / counts.header.tick_hz, m.text) for m in counts.marks),
        totals=wheel.totals,
    )


def state_now(wheel: LiveWheel) -> tuple[State, Note | None]:
    """Return how things stand, and what is to be said of it."""
    counts, keeper = wheel.figures, wheel.listening.keeper
    if wheel.stopped is not None:
        return "ended", note("stopped", why=wheel.stopped)
    if wheel.ended:
        return "ended", note("ended" if wheel.totals_final else "ending")
    if wheel.failing is not None:
        return "lost", note("stopped", why=wheel.failing)
    if keeper.log is None:
        return "waiting", note("opening", source=wheel.setup.source.name)
    if not keeper.connected:
        return "lost", note("lost", why=keeper.why_lost)
    if wheel.rigs.why_none is not None:
        return "waiting", note("bad-header", why=wheel.rigs.why_none)
    if counts.last is None:
        unreadable = counts.lines > _FEW_LINES and 2 * counts.damaged > counts.lines
        return "waiting", note("unreadable", lines=counts.lines) if unreadable else note("waiting")
    silent_s = time.monotonic() - keeper.heard_s
    if silent_s > wheel.habits.silent_s:
        return "silent", note("silent", seconds=int(silent_s))
    refused = wheel.course.figures.refused if wheel.course.figures is not None else None
    return ("standing" if counts.standing() else "turning"), refused


def length_so_far(wheel: LiveWheel) -> float | None:
    """Return the yarn that was counted so far in metres, None where none can be."""
    counts, rig = wheel.figures, wheel.rigs.under(wheel.figures.header)
    if rig is not None and rig.roller is not None and counts.pulses["y"]:
        return (counts.pulses["y"] - 1) * rig.roller.m / rig.targets["y"]
    return counts.noted_m if counts.length_lines else None


def _why(wheel: LiveWheel, length_m: float | None) -> Mapping[str, str]:
    """Return for each figure that may lack the key of what it waits for."""
    counts, course = wheel.figures, wheel.course
    rig = wheel.rigs.under(counts.header)
    roller_unknown = rig is not None and rig.roller is None and counts.pulses["y"] > 1
    twist = course.why_no_twist or "no-length"
    if twist == "no-length":
        twist = "roller-unknown" if roller_unknown else "marks" if length_m is not None else "no-length"
    if rig is not None and twist == "no-bobbin-growth" and rig.bobbin.full is not None:
        twist = "bobbin-not-full"
    no_length = "why-bobbin-length" if counts.pulses["b"] else "why-no-length"
    why = {
        "cadence": "why-wheel-pace" if counts.pulses["w"] else "why-wheel",
        "flyer": "why-flyer-pace" if counts.pulses["f"] else "why-flyer",
        "ratio": "why-ratio" if counts.pulses["w"] and counts.pulses["f"] else _missing(counts.pulses),
        "loss": "why-loss" if counts.pulses["w"] and counts.pulses["f"] else _missing(counts.pulses),
        "length": "why-roller-unknown" if roller_unknown else no_length,
        "twist": f"why-{twist}",
    }
    if course.figures is not None and course.figures.refused is not None:
        why |= dict.fromkeys(("cadence", "flyer", "ratio", "loss", "twist"), "why-refused")
    return why


def _missing(pulses: Mapping[str, int]) -> str:
    return "why-flyer" if pulses.get("w") else "why-wheel"
