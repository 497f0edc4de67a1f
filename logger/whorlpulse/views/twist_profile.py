"""Twist along the yarn as lines of text: one line a stretch, one mark on a scale, and a word where it is off plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from whorlpulse.units import tpi_from_tpm
from whorlpulse.views.figures import cut, plain, says
from whorlpulse.views.layout import Page

if TYPE_CHECKING:
    from whorlpulse.estimators.plan import YarnPlan
    from whorlpulse.estimators.twist import Window

#: Longer yarns are shown in longer stretches, so that the profile stays within a screen.
_MOST_LINES = 16
_ON, _OFF, _EDGE, _PAPER = "●", "○", "│", "·"
#: Columns beside the scale: metres, tpi, tpm and the word.
_BESIDE = 46


def profile(along: Sequence[Window], plan: YarnPlan | None, page: Page) -> str:
    """Return a line for every stretch: metres, tpi, tpm, a mark on a scale from 0, and under or over."""
    rows = _joined(along)
    scale_to = 1.15 * max(max(tpm for _, _, tpm in rows), plan.high_tpm if plan is not None else 0.0)
    width = max(page.width - _BESIDE, 12)
    metres = max(len(cut(to, 1)) for _, to, _ in rows)
    lines = []
    for start, stop, tpm in rows:
        word = "" if plan is None else "under" if tpm < plan.low_tpm else "over" if tpm > plan.high_tpm else ""
        bar = _bar(tpm, plan, scale_to, width, off=bool(word))
        place = f"{cut(start, 1):>{metres}} – {cut(stop, 1):>{metres}} m"
        lines.append(f"  {place}  {plain(tpi_from_tpm(tpm)):>5} tpi  {plain(tpm):>5} tpm  {bar} {word}".rstrip())
    head = says("twist-profile" if plan is None else "twist-profile-plan")
    return "\n".join([f"  {head}", *lines])


def _joined(along: Sequence[Window]) -> list[tuple[float, float, float]]:
    """Return (from_m, to_m, turns/m), neighbours joined until there are few enough."""
    group = -(-len(along) // _MOST_LINES)
    rows = []
    for i in range(0, len(along), group):
        part = along[i : i + group]
        turns = sum(w.tpm * (w.to_m - w.from_m) for w in part)
        rows.append((part[0].from_m, part[-1].to_m, turns / (part[-1].to_m - part[0].from_m)))
    return rows


def _bar(tpm: float, plan: YarnPlan | None, scale_to: float, width: int, *, off: bool) -> str:
    cells = [_PAPER] * width

    def at(value: float) -> int:
        return min(int(value / scale_to * width), width - 1)

    if plan is not None:
        cells[at(plan.low_tpm)] = cells[at(plan.high_tpm)] = _EDGE
    cells[at(max(tpm, 0.0))] = _OFF if off else _ON
    return "".join(cells)
