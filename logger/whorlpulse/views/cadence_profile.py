"""The speed within a turn as lines of text: from the mean's line to a mark, slower to the left, faster to the right."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.views.cadence_words import answer
from whorlpulse.views.figures import cut, decimals_for, pair
from whorlpulse.views.layout import Page, paragraph

if TYPE_CHECKING:
    from whorlpulse.estimators.turn_profile import ProfilePoint, TurnProfile

_LINES = 12
_MEAN, _MARK, _STEM, _PAPER = "│", "●", "─", "·"
#: Columns beside the scale, and the most that the scale takes on either side of the mean.
_BESIDE, _WIDEST = 24, 24


def profile(found: TurnProfile, page: Page) -> str:
    """Return a line for every other angle, and below them where it is slow and fast."""
    shown = found.points[:: len(found.points) // _LINES]
    half = min((page.width - _BESIDE) // 2, _WIDEST)
    scale = max(abs(p.speed.value - 1.0) for p in shown) or 1.0
    decimals = max(decimals_for(100.0 * max(p.speed.half_width for p in shown)), 0)
    head = paragraph(page, answer("profile", turns=found.laps))
    return "\n".join([head, *(_line(p, half, scale, decimals) for p in shown)])


def _line(point: ProfilePoint, half: int, scale: float, decimals: int) -> str:
    off = point.speed.value - 1.0
    columns = round(off / scale * half)
    cells = [_PAPER] * (2 * half + 1)
    step = 1 if columns >= 0 else -1
    for i in range(0, columns, step):
        cells[half + i] = _STEM
    cells[half] = _MEAN
    cells[half + columns] = _MARK
    percent = cut(100.0 * off, decimals)
    signed = percent if percent.startswith("-") else f"+{percent}"
    return f"  {cut(point.wheel_angle_turns, 2)}  {signed:>7} %  {''.join(cells)}"


def swing(found: TurnProfile) -> str:
    """Return the sentence on where the push is and how hard."""
    value, half = pair(100.0 * found.swing.value, 100.0 * found.swing.half_width)
    figure = f"{value} ± {half}" if half else value
    if not found.sure:
        return answer("swing-unsure", swing=figure)
    slow = " and ".join(cut(angle, 2) for angle in found.slow)
    key = "swing" if len(found.slow) == 1 else "swing-several"
    return answer(key, fastest=cut(found.fastest, 2), slow=slow, swing=figure)
