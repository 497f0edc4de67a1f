"""The slip report as the JSON object of format section 4."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from whorlpulse.estimators.measured import Measured
from whorlpulse.views.finding_words import as_object
from whorlpulse.views.json_object import SCHEMA, estimate
from whorlpulse.views.slip_words import note_words

if TYPE_CHECKING:
    from whorlpulse.estimators.slip import SlipEstimate, WhorlSlip
    from whorlpulse.estimators.slip_events import Burst
    from whorlpulse.estimators.slip_periodic import Line
    from whorlpulse.estimators.slip_reference import Reference
    from whorlpulse.findings.slip_report import SlipReport


def json_object(report: SlipReport) -> dict[str, Any]:
    """Return the object of format section 4; beyond its keys: `whorls`, each with its own figures."""
    found = report.found
    return {
        "schema": SCHEMA,
        "capture": report.capture,
        "notes": [note_words(n) for n in report.notes],
        "reference": _reference(found.reference) if found is not None and found.reference is not None else None,
        "ratio": estimate(found.ratio.ratio) if found is not None else None,
        "slip_percent": estimate(found.slip, 100.0) if found is not None else None,
        "creep_percent": estimate(found.creep, 100.0) if found is not None else None,
        "wheel_turns": found.ratio.wheel_turns if found is not None else None,
        "flyer_turns": found.ratio.flyer_turns if found is not None else None,
        "events": [_event(b) for b in found.bursts] if found is not None else [],
        "periodic": _periodic(found) if found is not None else [],
        "whorls": [_whorl(w) for w in found.whorls] if found is not None else [],
        "findings": [as_object(f) for f in report.findings],
    }


def _reference(reference: Reference) -> dict[str, Any]:
    shown = estimate(reference.ratio) or {}
    return {**shown, "source": reference.source, "name": reference.name, "by_diameters": reference.by_diameters}


def _event(burst: Burst) -> dict[str, Any]:
    return {
        "start_s": burst.start_s,
        "end_s": burst.end_s,
        "wheel_turn": burst.wheel_turn,
        "lost_turns": burst.lost,
        "wheel_angle_turns": burst.wheel_angle_turns,
        "acceleration_turns_per_s2": burst.acceleration,
        "pushed_harder_than": burst.harder,
        "winding_on": burst.winding,
        "counted": burst.counted,
        "whorl": burst.whorl,
    }


def _periodic(found: SlipEstimate) -> list[dict[str, Any]]:
    return [_line(line, i, found.turn_s) for i, w in enumerate(found.whorls) for line in w.lines]


def _line(line: Line, whorl: int, turn_s: float) -> dict[str, Any]:
    at, size = Measured(line.per_wheel_turn, line.u), Measured(100.0 * line.share, 100.0 * line.share_u)
    return {
        "per_wheel_turn": line.per_wheel_turn,
        "low": at.low,
        "high": at.high,
        "size_percent": size.value,
        "size_low_percent": size.low,
        "size_high_percent": size.high,
        "source": line.source,
        "multiple": line.multiple,
        "period_wheel_turns": 1.0 / line.per_wheel_turn,
        "period_s": turn_s / line.per_wheel_turn,
        "aliases_per_wheel_turn": list(line.aliases),
        "whorl": whorl,
    }


def _whorl(whorl: WhorlSlip) -> dict[str, Any]:
    return {
        "reference": _reference(whorl.reference),
        "ratio": estimate(whorl.ratio),
        "ratio_without_bursts": estimate(whorl.kept),
        "slip_percent": estimate(whorl.slip, 100.0),
        "creep_percent": estimate(whorl.creep, 100.0),
        "wheel_turns": whorl.wheel_turns,
        "runs": list(whorl.runs),
        "goes_with": [
            {
                "load": t.load,
                "change_points": estimate(Measured(100.0 * t.swing, 100.0 * t.swing_u)),
                "sure": t.sure,
            }
            for t in whorl.tracked
        ],
        "doubtful": whorl.doubtful,
    }
