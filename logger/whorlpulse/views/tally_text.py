"""What `tally` says: its sentences, as text, as the line that stands while one taps, and as JSON."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any, Final

from whorlpulse.views.figures import pair, plain
from whorlpulse.views.json_object import SCHEMA
from whorlpulse.views.layout import Page, headline, joined, paragraph

if TYPE_CHECKING:
    from whorlpulse.estimators.tally import CountRatio, TallyRatio, TapRatio

HOW: Final = (
    "Put a target, a bit of tape say, on the wheel and one on the flyer. Turn the wheel slowly and evenly: tap w "
    "each time the wheel's passes, f each time the flyer's does; q ends. Keep hair, sleeves and fingers off the "
    "moving wheel."
)
_MEANS: Final = "flyer turns per wheel turn, 95 % sure"
_COUNTED: Final = "{flyer} flyer turns over {wheel} wheel turns, counted to {step} at both ends."
_TAPPED: Final = "{flyer} flyer turns over {wheel} wheel turns, by taps that scatter by {scatter_ms} ms."
_MORE: Final = "{more} more wheel turns without a break would bring it to ±1 %."
_GOOD: Final = "That is within ±1 %: no more turns are needed for it."
_TOO_FEW: Final = (
    "{wheel} wheel taps and {flyer} flyer taps are too few: go on until the wheel's target has passed {needed} times "
    "after the first, with flyer taps before and after"
)
_BETWEEN: Final = "flyer turns per wheel turn, between {low} and {high}, 95 % sure"
_EXACT: Final = (
    "Most of the ± is the wheel's own rounding: start and stop with its target at the same place, count the flyer "
    "only, and say --wheel-exact."
)
_DISAGREE: Final = "The counts differ by more than rounding can make them: one of them was miscounted."
_REPEATS: Final = "{repeats} taps came within 0.1 s of the same key's last one and were left out."
_CUTS: Final = "A tap seems missed or doubled at {cuts} places; no count was carried across."
_BLUNT: Final = "The taps scatter so much that a missed one would not be noticed: turn the wheel more slowly."
_NO_SLIP: Final = "Taken for granted: the band does not slip while you count."
_LOPSIDED: Final = 1.25


def counts_text(result: CountRatio, page: Page, step: float, *, wheel_exact: bool) -> str:
    """Return the answer for typed counts."""
    found = result.found
    said = _COUNTED.format(flyer=_turns(found.flyer_turns), wheel=_turns(found.wheel_turns), step=_step_words(step))
    return _answer(found, said, count_notes(result, wheel_exact=wheel_exact), page)


def taps_text(result: TapRatio, found: TallyRatio, page: Page) -> str:
    """Return the answer for taps; found: that of `result`."""
    said = _TAPPED.format(
        flyer=plain(found.flyer_turns),
        wheel=_turns(found.wheel_turns),
        scatter_ms=plain(1000 * (result.scatter_s or 0.0)),
    )
    return _answer(found, said, tap_notes(result), page)


def count_notes(result: CountRatio, *, wheel_exact: bool) -> list[str]:
    """Return the sentences beside the answer for typed counts."""
    notes = [] if result.agree else [_DISAGREE]
    if not wheel_exact and result.found.more_wheel_turns:
        notes.append(_EXACT)
    return [*notes, _NO_SLIP]


def tap_notes(result: TapRatio) -> list[str]:
    """Return the sentences beside the answer for taps."""
    notes = [_REPEATS.format(repeats=result.repeats)] if result.repeats else []
    if result.cuts:
        notes.append(_CUTS.format(cuts=result.cuts))
    if result.blunt:
        notes.append(_BLUNT)
    return [*notes, _NO_SLIP]


def too_few(result: TapRatio, wheel_taps: int, flyer_taps: int) -> str:
    """Return why taps give no answer, and what would."""
    return _TOO_FEW.format(wheel=wheel_taps, flyer=flyer_taps, needed=result.needed)


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
            page, f"{pair(found.ratio, down)[0]} : 1", _BETWEEN.format(low=plain(found.low), high=plain(found.high))
        )
    else:
        value, half = pair(found.ratio, _half(found))
        top = headline(page, f"{value} : 1  ± {half}", _MEANS)
    more = _MORE.format(more=found.more_wheel_turns) if found.more_wheel_turns else _GOOD
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
