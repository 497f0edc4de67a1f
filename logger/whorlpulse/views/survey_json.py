"""The bench card as the JSON object that `--json` prints."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from whorlpulse.units import tpi_from_tpm
from whorlpulse.views.finding_words import as_object
from whorlpulse.views.json_object import SCHEMA, estimate
from whorlpulse.views.survey_words import Signed, note_words

if TYPE_CHECKING:
    from whorlpulse.findings.survey_report import Saving, SurveyReport, Use, WhorlCard
    from whorlpulse.rig import Length


def json_object(report: SurveyReport, signed: Signed, saving: Saving | None = None) -> dict[str, Any]:
    """Return the card's object: the keys of every object (format section 4), and the whorls, ascending by ratio."""
    wheel = report.wheel
    return {
        "schema": SCHEMA,
        "capture": report.capture,
        "date": signed.date,
        "repairer": signed.repairer,
        "simulated": report.simulated,
        "draft_m": report.draft_m,
        "wheel_turns": report.wheel_turns,
        "cadence_per_min": None if report.cadence_hz is None else 60.0 * report.cadence_hz,
        "whorls": [_whorl(w) for w in report.whorls],
        "wheel": {
            "name": wheel.name,
            "tension": wheel.tension,
            "wheel_diameter_m": _metres(wheel.wheel_diameter),
            "band_thickness_m": _metres(wheel.band_thickness),
            "band_length_m": _metres(wheel.band_length),
        },
        "findings": [as_object(f) for f in report.findings],
        "saved": None if saving is None else _saved(saving),
        "guide": [note_words(n) for n in report.guide],
        "notes": [note_words(n) for n in report.notes],
    }


def _whorl(whorl: WhorlCard) -> dict[str, Any]:
    return {
        "name": whorl.name,
        "ratio": estimate(whorl.ratio),
        "made_ratio": estimate(whorl.made),
        "wheel_turns": whorl.wheel_turns,
        "runs": list(whorl.runs),
        "bursts": whorl.bursts,
        "diameter_m": _metres(whorl.diameter),
        "no_slip_ratio": estimate(whorl.no_slip),
        "no_slip_source": whorl.source,
        "slip_percent": estimate(whorl.slip, 100.0),
        **_use(whorl.use),
    }


def _use(use: Use | None) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key in ("twist", "from", "to"):
        tpm = None if use is None else getattr(use, f"{key}_tpm")
        name = key if key == "twist" else f"best_{key}"
        found |= {f"{name}_tpi": None if tpm is None else tpi_from_tpm(tpm), f"{name}_tpm": tpm}
    return found


def _metres(length: Length | None) -> float | None:
    return None if length is None else length.m


def _saved(saving: Saving) -> dict[str, Any]:
    return {
        "written": [
            {
                "name": one.name,
                "ratio": estimate(one.ratio),
                "old_ratio": one.old,
                "new": one.index is None,
                "bursts": one.bursts,
                "source": "other-capture" if one.from_reference else "this-capture",
            }
            for one in saving.saved
        ],
        "refused": [note_words(n) for n in saving.refused],
    }
