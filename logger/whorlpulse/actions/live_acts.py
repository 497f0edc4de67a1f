"""What can be asked of a live wheel: pause, a mark, a note, a drawn length, a pace. What is noted goes into its log."""

from __future__ import annotations

import math
import time
from typing import TYPE_CHECKING, Final

from whorlpulse.views.live_words import live_says

if TYPE_CHECKING:
    from whorlpulse.actions.live_wheel import LiveWheel

LONGEST: Final = 200
_PACE: Final = (10.0, 300.0)


def note_in_log(wheel: LiveWheel, action: str, text: str, tick: int | None = None) -> str | None:
    """Write a `mark`, `note` or `length` line; return why not, or None.

    text: a mark's or note's words, or a length with its unit. tick: the moment's raw tick, None: now.
    """
    keeper, counts = wheel.listening.keeper, wheel.figures
    words = " ".join(text.split())
    tick = counts.tick_at(time.monotonic()) if tick is None else tick
    if wheel.ended:
        return live_says("not-recording")
    if keeper.log is None or tick is None:
        return live_says("no-tick-yet")
    if len(words) > LONGEST:
        return live_says("too-long", most=LONGEST)
    if action == "note" and not words:
        return live_says("nothing-to-note")
    try:
        if action == "length":
            words = " ".join(wheel.setup.read_length(words))
        keeper.log.note(action, words if action == "note" else f"{tick} {words}".rstrip())
    except ValueError as unclear:
        return str(unclear)
    if action != "note":
        counts.noted(action, tick, words)
    return None


def set_pace(wheel: LiveWheel, text: str) -> str | None:
    """Set the pace that is wanted, in turns a minute; empty for none. Return why not, or None."""
    try:
        wanted = float(text) if text else None
    except ValueError:
        wanted = math.nan
    if wanted is not None and not _PACE[0] <= wanted <= _PACE[1]:
        return live_says("bad-pace")
    wheel.course.pace_per_min = wanted
    return None
