"""Cues that stay calm: a verdict is taken on when it has held for a while, not at every figure.

The hold and the dead band of the pace are chosen so that a cue is no flicker; they enter no figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from whorlpulse.estimators.twist import Verdict
    from whorlpulse.findings.live import Pace

#: A verdict must have held for so many seconds of spinning before it is said.
_HOLDS_S: Final = 4.0
#: The pace is called off when it is further from the wanted one than this share, and right again within the smaller.
_OFF, _RIGHT_AGAIN = 0.06, 0.03


@dataclass(frozen=True)
class Followed:
    """A verdict as it is shown, and the one that would follow it: since when (seconds of the log)."""

    shown: Verdict = "undecided"
    next: Verdict = "undecided"
    since_s: float = 0.0


def followed(before: Followed, verdict: Verdict | None, at_s: float) -> Followed:
    """Return what is shown once the window's verdict at at_s is known; None (no twist) changes nothing."""
    if verdict is None:
        return before
    if verdict == before.shown:
        return Followed(before.shown, before.shown, at_s)
    if verdict != before.next:
        return Followed(before.shown, verdict, at_s)
    if at_s - before.since_s >= _HOLDS_S:
        return Followed(verdict, verdict, at_s)
    return before


def pace_cue(before: Pace | None, per_min: float | None, wanted_per_min: float | None) -> Pace | None:
    """Return the cue for the pace; None without a pace that is wanted, or while the wheel stands."""
    if wanted_per_min is None or not per_min:
        return None
    off = per_min / wanted_per_min - 1.0
    if abs(off) <= (_OFF if before == "with it" else _RIGHT_AGAIN):
        return "with it"
    if before not in ("slower", "faster") or abs(off) > _OFF:
        return "slower" if off > 0 else "faster"
    return before
