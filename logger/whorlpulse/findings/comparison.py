"""The result of `compare`: two logs' figures side by side, and what may be said of their difference.

A difference is sure when its 95 % interval leaves out zero, and matters from the row's `least` on. One that is not sure
is none that these logs could show; then it is reckoned how much longer they would have to be. A band's wandering is
random, so intervals shrink with the root of the time (timing noise alone would shrink faster).
"""

from __future__ import annotations

from math import ceil
from typing import TYPE_CHECKING, Literal

import msgspec

if TYPE_CHECKING:
    from whorlpulse.estimators.difference import Span
    from whorlpulse.findings.report import Finding, Note

Kind = Literal["sure", "slight", "none", "unknown"]
What = Literal[
    "slip", "creep", "bursts-lost", "ratio", "burst-rate", "lost-rate", "rhythm", "cadence", "steadiness", "twist"
]

#: From where on a difference matters to a spinner, in the row's unit (common practice, no source): points of the
#: ratio, flyer turns per wheel turn in per cent, bursts a minute, turns a minute, treadles a minute, tpm in per cent.
LEAST: dict[str, float] = {
    "slip": 0.2,
    "creep": 0.2,
    "bursts-lost": 0.2,
    "ratio": 0.2,
    "burst-rate": 0.2,
    "lost-rate": 0.2,
    "rhythm": 0.1,
    "cadence": 1.0,
    "steadiness": 0.5,
    "twist": 1.0,
}
#: Where less of it is better (-1), more (+1), or neither (0).
BETTER: dict[str, int] = {
    "slip": -1,
    "creep": -1,
    "bursts-lost": -1,
    "ratio": 0,
    "burst-rate": -1,
    "lost-rate": -1,
    "rhythm": -1,
    "cadence": 0,
    "steadiness": -1,
    "twist": 0,
}
#: Rows whose `least` is in per cent of the first log's value.
_IN_PERCENT = ("ratio", "twist")


class Verdict(msgspec.Struct, frozen=True):
    """kind: sure, sure but too slight to matter, none that could be shown, unknown.

    better: True, False, or None where neither is. shows: the smallest difference that these logs would have shown.
    longer: so many times longer logs would show `target`; both None where that was not asked.
    """

    kind: Kind
    better: bool | None = None
    shows: float | None = None
    longer: int | None = None
    target: float | None = None


class Row(msgspec.Struct, frozen=True):
    """One quantity of both logs in the unit of its words, and the second's less the first's.

    first, second: None where not known. order: for a rhythm, how often it comes in a wheel turn; band: whether it is
    the band's.
    """

    what: What
    first: Span | None
    second: Span | None
    difference: Span | None
    verdict: Verdict
    order: float | None = None
    band: bool = False


class WhorlRows(msgspec.Struct, frozen=True):
    """A whorl that both logs were spun on. own_reference: no ratio without slip is known, so levels are not either."""

    name: str | None
    reference: Span
    source: str
    rows: tuple[Row, ...]
    own_reference: bool = False


class OneSide(msgspec.Struct, frozen=True):
    """What belongs to one log alone: its name, treadled minutes, ratios without partner, findings, notes."""

    capture: str
    minutes: float = 0.0
    alone: tuple[Span, ...] = ()
    findings: tuple[Finding, ...] = ()
    notes: tuple[Note, ...] = ()


class CompareReport(msgspec.Struct, frozen=True):
    """Answer to `compare`. whole: rows of all turns together. cannot_say: why there is no answer."""

    capture: str
    first: OneSide
    second: OneSide
    whorls: tuple[WhorlRows, ...] = ()
    whole: tuple[Row, ...] = ()
    cannot_say: Note | None = None
    notes: tuple[Note, ...] = ()


def row(
    what: What,
    first: Span | None,
    second: Span | None,
    difference: Span | None,
    *,
    order: float | None = None,
    band: bool = False,
) -> Row:
    """Return the row with its verdict."""
    least = LEAST[what]
    if what in _IN_PERCENT and first is not None:
        least *= abs(first.value) / 100.0
    return Row(what, first, second, difference, judged(difference, least, BETTER[what]), order, band)


def judged(difference: Span | None, least: float, better: int) -> Verdict:
    """Return what may be said of a difference. least: from where on it matters; better: sign of a better one, or 0."""
    if difference is None:
        return Verdict("unknown")
    value, low, high = difference.value, difference.low, difference.high
    shows = max(high - value, value - low)
    if low > 0.0 or high < 0.0:
        return Verdict("sure" if abs(value) >= least else "slight", None if better == 0 else value * better > 0, shows)
    target = max(abs(value), least)
    if shows <= target:
        return Verdict("none", None, shows)
    return Verdict("none", None, shows, ceil((shows / target) ** 2), target)
