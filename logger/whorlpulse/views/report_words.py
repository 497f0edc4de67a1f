"""The words of the report page: its sentences with the figures put in by the one rounding rule."""

from __future__ import annotations

from typing import TYPE_CHECKING

from whorlpulse.findings.catalogue import page
from whorlpulse.units import tpi_from_tpm
from whorlpulse.views.figures import cut, decimals_for, words
from whorlpulse.views.figures import filled as put_in
from whorlpulse.views.figures import says as catalogue_says

if TYPE_CHECKING:
    from collections.abc import Mapping

    from whorlpulse.estimators.twist import OffPlan
    from whorlpulse.findings.report import Figure, Note


def filled(sentences: Mapping[str, str], key: str, /, **figures: Figure) -> str:
    """Return a sentence of one of the page's tables with these figures in."""
    return put_in(sentences[key], figures)


def says(key: str, /, **figures: Figure) -> str:
    """Return a sentence of the page."""
    return filled(page.SAYS, key, **figures)


def shows(key: str, /, **figures: Figure) -> str:
    """Return what a picture shows."""
    return filled(page.SHOWS, key, **figures)


def axis(key: str, /, **figures: Figure) -> str:
    """Return an axis title or a label in a picture."""
    return filled(page.AXES, key, **figures)


def not_drawn(key: str, /, **figures: Figure) -> str:
    """Return why a picture is not there."""
    return filled(page.NOT_DRAWN, key, **figures)


def why_not(note: Note | None) -> str:
    """Return the reason of a report that has no answer, without a full stop."""
    return words(note).rstrip(".") if note is not None else page.SAYS["not-known"]


def sentence(note: Note | None) -> str:
    """Return that reason as a sentence."""
    reason = why_not(note)
    return f"{reason[:1].upper()}{reason[1:]}."


def off_plan_words(stretch: OffPlan) -> str:
    """Return where a stretch off plan lies and what twist it has."""
    return catalogue_says(
        "off-plan-stretch",
        start=cut(stretch.from_m, 1),
        stop=cut(stretch.to_m, 1),
        tpi=tpi_from_tpm(stretch.tpm),
        tpm=stretch.tpm,
        verdict=stretch.verdict,
    )


def span_words(low: float, high: float) -> tuple[str, str]:
    """Return the ends of a span, cut where a hundredth of it begins to show."""
    wide = high - low
    decimals = decimals_for(0.05 * wide) if wide > 0.0 else 3
    return cut(low, decimals), cut(high, decimals)
