"""The cadence report as the JSON object of format section 4."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from whorlpulse.views.cadence_words import note_words
from whorlpulse.views.json_object import SCHEMA, estimate

if TYPE_CHECKING:
    from whorlpulse.estimators.board_clock import BoardClock
    from whorlpulse.estimators.laps import Stall
    from whorlpulse.estimators.turn_profile import TurnProfile
    from whorlpulse.findings.cadence_report import CadenceReport

_PER_MIN = 60.0


def json_object(report: CadenceReport) -> dict[str, Any]:
    """Return the object of format section 4; beyond its keys: intervals, parts, runs, stalls, clock.

    reversals is always null: sensors don't know direction, as a note says.
    """
    found, limit = report.found, (report.limit,) if report.limit is not None else ()
    return {
        "schema": SCHEMA,
        "capture": report.capture,
        "notes": [note_words(n) for n in (*report.notes, *limit)],
        "cadence_per_min": estimate(report.mean_hz, _PER_MIN),
        **_steadiness(report),
        "treadles": report.treadles,
        **_trend(report),
        "wheel_turns": found.wheel_turns if found is not None else None,
        "treadled_s": found.treadled_s if found is not None else None,
        "runs": [
            {
                "start_s": r.start_s,
                "end_s": r.end_s,
                "wheel_turns": r.wheel_turns,
                "cadence_per_min": _PER_MIN * hz,
            }
            for r, hz in zip(found.runs if report.run_hz and found is not None else (), report.run_hz, strict=True)
        ],
        "stops": [{"start_s": start, "end_s": end} for start, end in report.stops],
        "stalls": [_stall(s) for s in report.stalls],
        "reversals": None,
        **_profile(report.profile),
        "clock": _clock(report.clock) if report.clock is not None else None,
    }


def _steadiness(report: CadenceReport) -> dict[str, Any]:
    found = report.found.steadiness if report.found is not None else None
    if found is None:
        return {
            "steadiness_percent": None,
            "steadiness_low_percent": None,
            "steadiness_high_percent": None,
            "drift_percent": None,
            "turn_to_turn_percent": None,
        }
    return {
        "steadiness_percent": 100.0 * found.overall.value,
        "steadiness_low_percent": 100.0 * max(found.overall.low, 0.0),
        "steadiness_high_percent": 100.0 * found.overall.high,
        "drift_percent": 100.0 * found.drift,
        "turn_to_turn_percent": 100.0 * found.turn_to_turn.value,
    }


def _trend(report: CadenceReport) -> dict[str, Any]:
    trend = report.trend_hz_per_s.times(_PER_MIN**2) if report.trend_hz_per_s is not None else None
    return {
        "trend_per_min_per_min": trend.value if trend is not None else None,
        "trend_low_per_min_per_min": trend.low if trend is not None else None,
        "trend_high_per_min_per_min": trend.high if trend is not None else None,
    }


def _profile(found: TurnProfile | None) -> dict[str, Any]:
    if found is None:
        return {
            "profile": None,
            "profile_turns": None,
            "swing_percent": None,
            "slow_turns": None,
            "fastest_turns": None,
        }
    return {
        "profile": [
            {
                "wheel_angle_turns": p.wheel_angle_turns,
                "speed": p.speed.value,
                "low": p.speed.low,
                "high": p.speed.high,
            }
            for p in found.points
        ],
        "profile_turns": found.laps,
        "swing_percent": estimate(found.swing, 100.0),
        "slow_turns": list(found.slow) if found.sure else None,
        "fastest_turns": found.fastest if found.sure else None,
    }


def _stall(s: Stall) -> dict[str, Any]:
    return {"start_s": s.start_s, "end_s": s.end_s, "usual_s": s.usual_s, "more_flyer_turns": s.ran_back}


def _clock(clock: BoardClock) -> dict[str, Any]:
    """fast_percent: by how much the board's clock runs fast; null where nothing is known of it."""
    rate = clock.rate
    fast = (
        {"value": 100 / rate.value - 100, "low": 100 / rate.high - 100, "high": 100 / rate.low - 100}
        if clock.source == "sync"
        else None
    )
    return {"corrected": clock.source == "sync", "fast_percent": fast, "sync_lines": clock.stamps}
