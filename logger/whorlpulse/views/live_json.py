"""One wheel of a live view as the JSON object that the page draws: every figure a finished text beside its value."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Any, Final

from whorlpulse.estimators.measured import Measured
from whorlpulse.units import tpi_from_tpm
from whorlpulse.views.figures import cut, pair, plain
from whorlpulse.views.live_words import live_note, live_says
from whorlpulse.views.recording_line import clock

if TYPE_CHECKING:
    from collections.abc import Sequence

    from whorlpulse.findings.live import LiveBurst, PlanNow, StripPoint, Totals, TurnShape, WheelNow

SCHEMA: Final = 1
_TPI = tpi_from_tpm(1.0)
#: How much the strip shows.
STRIP_S: Final = 180.0


def figure(value: Measured | float | None, unit: str, why: str | None = None, factor: float = 1.0) -> dict[str, Any]:
    """Return a figure of the contract: text, half width, unit, value, and why it is not known."""
    if value is None:
        return {"text": None, "pm": None, "unit": unit, "value": None, "why": live_says(why) if why else None}
    if isinstance(value, Measured):
        text, half = pair(value.value * factor, value.half_width * factor)
        return {"text": text, "pm": half or None, "unit": unit, "value": value.value * factor, "why": None}
    return {"text": plain(value * factor), "pm": None, "unit": unit, "value": value * factor, "why": None}


def quick_parts(now: WheelNow) -> dict[str, Any]:
    """Return the keys that may change with every pulse."""
    why = now.why
    return {
        "name": now.name,
        "simulated": now.simulated,
        "state": now.state,
        "says": live_note(now.says) if now.says is not None else None,
        "pulses": {letter: now.pulses.get(letter, 0) for letter in "wfyb"},
        "lost": now.lost,
        "damaged": now.damaged,
        "pulses_text": pulses_text(now),
        "cadence": figure(now.wheel_per_min, "turns/min", why.get("cadence")),
        "flyer": figure(now.flyer_per_min, "turns/min", why.get("flyer")),
        "length": figure(now.length_m, "m", why.get("length")),
        "pace": _pace(now),
    }


def window_parts(now: WheelNow) -> dict[str, Any]:
    """Return the keys that change with the window."""
    why = now.why
    return {
        "ratio": figure(now.ratio, ": 1", why.get("ratio")),
        "twist_tpi": figure(now.twist_tpm, "tpi", why.get("twist"), _TPI),
        "twist_tpm": figure(now.twist_tpm, "tpm", why.get("twist")),
        "loss": figure(now.loss, "%", why.get("loss"), 100.0),
        "plan": _plan(now.plan) if now.plan is not None else None,
        "strip": _strip(now.strip) if now.strip else None,
        "bursts": [_burst(b) for b in now.bursts],
        "marks": [{"t_s": round(t_s, 3), "text": text} for t_s, text in now.marks],
        "totals": _totals(now.totals) if now.totals is not None else None,
    }


def profile_part(shape: TurnShape | None, angle_turns: float | None) -> dict[str, Any] | None:
    """Return the key `profile`; where the wheel is now goes along in it."""
    if shape is None:
        return None
    return {
        "angle_turns": [round(a, 5) for a in shape.angle_turns],
        "speed": [round(s, 4) for s in shape.speed],
        "turns": shape.turns,
        "angle_now": None if angle_turns is None else round(angle_turns, 3),
        "text": live_says(
            "profile-text", turns=shape.turns, swing=shape.swing.times(100.0), slowest=cut(shape.slowest_turns, 2)
        ),
    }


def pulses_text(now: WheelNow) -> str:
    """Return how many pulses came, and what was lost, in words."""
    pulses = sum(now.pulses.get(letter, 0) for letter in "wfyb")
    if now.damaged:
        return live_says("pulses-damaged", pulses=pulses, lost=now.lost, damaged=now.damaged)
    return (
        live_says("pulses", pulses=pulses, lost=now.lost) if now.lost else live_says("pulses-none-lost", pulses=pulses)
    )


def plan_says(now: PlanNow) -> str:
    """Return what to do, in words."""
    if now.wanted_m is None:
        return live_says("plan-unknown")
    wanted = plain(100.0 * now.wanted_m)
    if now.verdict in ("under", "over") and now.draft_m is not None:
        return live_says(f"plan-{now.verdict}", wanted=wanted, draft=plain(100.0 * now.draft_m))
    return live_says("plan-on-plan" if now.verdict == "on-plan" else "plan-undecided", wanted=wanted)


def burst_text(burst: LiveBurst) -> str:
    """Return what was lost, and when, in words."""
    return live_says("burst", turns=burst.lost.value, at=clock(burst.start_s))


def _burst(burst: LiveBurst) -> dict[str, Any]:
    return {"t_s": round(burst.start_s, 3), "text": burst_text(burst)}


def _pace(now: WheelNow) -> dict[str, Any] | None:
    if now.pace_per_min is None:
        return None
    return {"per_min": now.pace_per_min, "text": plain(now.pace_per_min), "cue": now.pace}


def _plan(now: PlanNow) -> dict[str, Any]:
    plan = now.plan
    place = None if now.twist_tpm is None else (now.twist_tpm - plan.low_tpm) / (plan.high_tpm - plan.low_tpm)
    return {
        "twist": f"{plain(plan.twist_tpm * _TPI)} tpi ({plain(plan.twist_tpm)} tpm)",
        "from": plain(plan.low_tpm * _TPI),
        "to": plain(plan.high_tpm * _TPI),
        "place": None if place is None or not isfinite(place) else round(place, 4),
        "verdict": now.verdict,
        "says": plan_says(now),
    }


def _strip(points: Sequence[StripPoint]) -> dict[str, Any]:
    pace = [p.cadence_per_min for p in points if p.cadence_per_min]
    ratio = [p.ratio for p in points if p.ratio is not None]
    seconds = round(min(points[-1].t_s - points[0].t_s, STRIP_S))
    if not pace:
        text = live_says("strip-none")
    elif not ratio:
        text = live_says("strip-text-short", seconds=seconds, slow=min(pace), fast=max(pace))
    else:
        text = live_says(
            "strip-text", seconds=seconds, slow=min(pace), fast=max(pace), low=plain(min(ratio)), high=plain(max(ratio))
        )
    return {
        "t_s": [round(p.t_s, 2) for p in points],
        "cadence_per_min": [_rounded(p.cadence_per_min, 2) for p in points],
        "ratio": [_rounded(p.ratio, 4) for p in points],
        "twist_tpi": [_rounded(None if p.twist_tpm is None else p.twist_tpm * _TPI, 3) for p in points],
        "seconds": STRIP_S,
        "text": text,
    }


def _totals(totals: Totals) -> dict[str, Any]:
    return {
        "measured_to": clock(totals.to_s),
        "ratio": figure(totals.ratio, ": 1"),
        "cadence": figure(totals.cadence_hz, "turns/min", factor=60.0),
        "twist_tpi": figure(totals.twist_tpm, "tpi", factor=_TPI),
        "twist_tpm": figure(totals.twist_tpm, "tpm"),
        "length": figure(totals.length_m, "m"),
        "loss": figure(totals.slip, "%", factor=100.0),
        "wheel_turns": None if totals.wheel_turns is None else cut(totals.wheel_turns, 1),
        "flyer_turns": None if totals.flyer_turns is None else cut(totals.flyer_turns, 1),
        "notes": [live_note(n) for n in totals.notes],
    }


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None or not isfinite(value) else round(value, digits)
