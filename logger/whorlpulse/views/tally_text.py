"""What `tally` says as text, as the line that stands while one taps, and as JSON."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

from whorlpulse.findings.catalogue import tally as say
from whorlpulse.views.figures import pair, plain
from whorlpulse.views.json_object import SCHEMA
from whorlpulse.views.layout import Page, headline, joined, paragraph

if TYPE_CHECKING:
    from whorlpulse.estimators.tally import CountRatio, TallyRatio, TapRatio

_LOPSIDED: Final = 1.25


def counts_text(result: CountRatio, page: Page, step: float, *, wheel_exact: bool) -> str:
    """Return the answer for typed counts."""
    found = result.found
    said = say.COUNTED.format(flyer=_turns(found.flyer_turns), wheel=_turns(found.wheel_turns), step=_step_words(step))
    return _answer(found, said, count_notes(result, wheel_exact=wheel_exact), page)


def taps_text(result: TapRatio, found: TallyRatio, page: Page) -> str:
    """Return the answer for taps; found: that of `result`."""
    said = say.TAPPED.format(
        flyer=plain(found.flyer_turns),
        wheel=_turns(found.wheel_turns),
        scatter_ms=plain(1000 * (result.scatter_s or 0.0)),
    )
    return _answer(found, said, tap_notes(result), page)


def count_notes(result: CountRatio, *, wheel_exact: bool) -> list[str]:
    """Return the sentences beside the answer for typed counts."""
    notes = [] if result.agree else [say.DISAGREE]
    if not wheel_exact and result.found.more_wheel_turns:
        notes.append(say.EXACT)
    return [*notes, say.NO_SLIP]


def tap_notes(result: TapRatio) -> list[str]:
    """Return the sentences beside the answer for taps."""
    notes = [say.REPEATS.format(repeats=result.repeats)] if result.repeats else []
    if result.cuts:
        notes.append(say.CUTS.format(cuts=result.cuts))
    if result.blunt:
        notes.append(say.BLUNT)
    return [*notes, say.NO_SLIP]


def too_few(result: TapRatio, wheel_taps: int, flyer_taps: int) -> str:
    """Return why taps give no answer, and what would."""
    return say.TOO_FEW.format(wheel=wheel_taps, flyer=flyer_taps, needed=result.needed)


def tapping_line(result: TapRatio, wheel_taps: int, flyer_taps: int) -> str:
    """Return the line that stands while one taps."""
    parts = [f"wheel {wheel_taps}", f"flyer {flyer_taps}"]
    if result.found is not None:
        value, half = pair(result.found.ratio, _half(result.found))
        parts.append(f"{value} : 1 ± {half}")
    return " · ".join([*parts, "q ends"])


def json_object(found: TallyRatio | None, notes: list[str]) -> dict[str, Any]:
    """Return the object of `tally --json`; found None: no answer, the reason being among the notes."""
    value = None if found is None else {"value": found.ratio, "low": found.low, "high": found.high}
    return {
        "schema": SCHEMA,
        "capture": None,
        "notes": notes,
        "ratio": value,
        "wheel_turns": None if found is None else found.wheel_turns,
        "flyer_turns": None if found is None else found.flyer_turns,
        "more_wheel_turns_for_1_percent": None if found is None else found.more_wheel_turns,
    }


def _answer(found: TallyRatio, said: str, notes: list[str], page: Page) -> str:
    up, down = found.high - found.ratio, found.ratio - found.low
    if max(up, down) > _LOPSIDED * min(up, down):
        top = headline(
            page, f"{pair(found.ratio, down)[0]} : 1", say.BETWEEN.format(low=plain(found.low), high=plain(found.high))
        )
    else:
        value, half = pair(found.ratio, _half(found))
        top = headline(page, f"{value} : 1  ± {half}", say.MEANS)
    more = say.MORE.format(more=found.more_wheel_turns) if found.more_wheel_turns else say.GOOD
    bullets = "\n".join(
        textwrap.fill(note, page.width - 2, initial_indent="  · ", subsequent_indent="    ") for note in notes
    )
    return joined(top, paragraph(page, f"{said} {more}"), bullets)


def _half(found: TallyRatio) -> float:
    return max(found.high - found.ratio, found.ratio - found.low)


def _step_words(step: float) -> str:
    return "whole turns" if step == 1 else "half turns"


def _turns(turns: float) -> str:
    return f"{turns:g}"
