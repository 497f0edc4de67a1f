"""Draws as text (a few sentences, or a table) and as JSON; they are a part of the twist report."""

from __future__ import annotations

from math import sqrt
from typing import TYPE_CHECKING, Any

from whorlpulse.units import tpi_from_tpm
from whorlpulse.views.figures import cut, pair, says
from whorlpulse.views.layout import Page, joined, paragraph, table

if TYPE_CHECKING:
    from whorlpulse.estimators.draw_rhythm import Rhythm, Spread
    from whorlpulse.estimators.draws import Draws
    from whorlpulse.estimators.spun_draw import SpunDraw

_TPI = tpi_from_tpm(1.0)
#: A 95 % interval is this many standard uncertainties to either side.
_SURE = 1.96
#: What the rhythm's JSON gives a mean and a CV of: its keys, by their names in the rhythm.
_SPREADS = {
    "lasted_s": "lasted_s",
    "winding_s": "winding_s",
    "length_m": "length_m",
    "twist_tpm": "twist_tpm",
    "treadles": "wheel_turns",
}


def summary(found: Draws | None, page: Page, *, listed: bool = False) -> str | None:
    """Return how many draws there are, their rhythm and spread; listed: and every one of them. None without draws."""
    if found is None or not found.draws:
        return None
    said = [_head(found)]
    if found.rhythm is not None:
        said += _rhythm(found, found.rhythm)
    if not listed:
        said.append(says("draws-more"))
    return joined(paragraph(page, " ".join(said)), _list(found) if listed else None)


def _head(found: Draws) -> str:
    seen = says(f"draws-seen-{found.seen_by}")
    if found.manner == "parked":
        stood = sum(d.stood_s > 0 for d in found.draws)
        return says("draws-parked", draws=len(found.draws), seen=seen, stood=stood)
    return says("draws-head", draws=len(found.draws), seen=seen)


def _rhythm(found: Draws, rhythm: Rhythm) -> list[str]:
    parts = [
        says("draws-length", length=_mean(rhythm.length_m), cv=_cv(rhythm.length_m)) if rhythm.length_m else "",
        says("draws-lasted", seconds=_mean(rhythm.lasted_s), cv=_cv(rhythm.lasted_s)),
        says("draws-winding", seconds=_mean(rhythm.winding_s)) if rhythm.winding_s else "",
        says("draws-treadles", turns=_mean(rhythm.treadles), cv=_cv(rhythm.treadles)) if rhythm.treadles else "",
    ]
    said = [f"{', '.join(part for part in parts if part)}."]
    if rhythm.twist_tpm is not None and found.twist_u_share is not None:
        half = 100.0 * _SURE * found.twist_u_share
        each = pair(half, half)[1]
        said.append(says("draws-twist-known", cv=_cv(rhythm.twist_tpm), each=each))
    elif rhythm.twist_tpm is not None:
        said.append(says("draws-twist", cv=_cv(rhythm.twist_tpm)))
    if rhythm.waiting_share is not None:
        said.append(says("draws-waits", percent=round(100.0 * rhythm.waiting_share)))
    return [f"{said[0][:1].upper()}{said[0][1:]}", *said[1:]]


def _mean(spread: Spread) -> str:
    """Return a mean, cut where the draws' own scatter makes it uncertain."""
    return pair(spread.mean, _SURE * spread.mean * spread.cv / sqrt(spread.draws))[0]


def _cv(spread: Spread) -> str:
    """Return a coefficient of variation in percent, cut likewise: its own relative uncertainty is 1/√(2(n − 1))."""
    percent = 100.0 * spread.cv
    return pair(percent, _SURE * percent / sqrt(2 * (spread.draws - 1)))[0]


def _list(found: Draws) -> str:
    head = ("draw", "from – to, s", "m", "flyer turns", "waiting", "wheel turns", "tpi", "tpm")
    rows = [_row(number, draw, found.twist_u_share or 0.0) for number, draw in enumerate(found.draws, 1)]
    return f"  {says('draws-list')}\n{table(head, rows, gap='  ')}"


def _row(number: int, draw: SpunDraw, twist_u_share: float) -> tuple[str, ...]:
    def shown(value: float | None, u_share: float = 0.0) -> str:
        return says("draws-unknown") if value is None else pair(value, _SURE * u_share * value)[0]

    return (
        str(number),
        f"{cut(draw.start_s, 1)} – {cut(draw.end_s, 1)}",
        shown(draw.length_m),
        shown(draw.flyer_turns),
        shown(draw.waiting_turns),
        shown(draw.treadles),
        shown(None if draw.tpm is None else draw.tpm * _TPI, twist_u_share),
        shown(draw.tpm, twist_u_share),
    )


def json_draws(found: Draws | None) -> list[dict[str, Any]]:
    """Return the list of draws, null where lines were lost in one; empty where there are none (the notes say why)."""
    return [
        {
            "start_s": d.start_s,
            "winding_s": d.winding_s,
            "end_s": d.end_s,
            "length_m": d.length_m,
            "flyer_turns": d.flyer_turns,
            "waiting_turns": d.waiting_turns,
            "twist_tpi": None if d.tpm is None else d.tpm * _TPI,
            "twist_tpm": d.tpm,
            "wheel_turns": d.treadles,
            "stood_s": d.stood_s,
        }
        for d in (found.draws if found is not None else ())
    ]


def json_rhythm(found: Draws | None) -> dict[str, Any] | None:
    """Return how the yarn was taken up and the rhythm of its draws; None where twist has no answer."""
    if found is None:
        return None
    rhythm = found.rhythm
    spreads = {} if rhythm is None else {key: getattr(rhythm, name) for name, key in _SPREADS.items()}
    return {
        "take_up": found.manner,
        "seen_by": found.seen_by,
        "draws": len(found.draws),
        "counted": None if rhythm is None else rhythm.draws,
        **{key: None if spreads.get(key) is None else spreads[key].mean for key in _SPREADS.values()},
        **{
            f"{_without_unit(key)}_cv_percent": None if spreads.get(key) is None else 100.0 * spreads[key].cv
            for key in _SPREADS.values()
        },
        "waiting_percent": None if rhythm is None or rhythm.waiting_share is None else 100.0 * rhythm.waiting_share,
        "draw_twist_u_percent": None if found.twist_u_share is None else 100.0 * found.twist_u_share,
    }


def _without_unit(key: str) -> str:
    """Return a key without the unit at its end; a number of turns is none."""
    return key if key.endswith("_turns") else key.rpartition("_")[0]
