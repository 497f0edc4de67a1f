"""The bench card as one page to print: no script, nothing from elsewhere, everything from outside shown as text."""

from __future__ import annotations

from importlib import resources
from typing import TYPE_CHECKING, Any, Final

from whorlpulse import __version__
from whorlpulse.views.figures import measured, pair
from whorlpulse.views.survey_words import (
    CAUTIONS,
    DRAFT_TWISTS_TPI,
    Signed,
    answer,
    at_draft,
    best_for,
    both_twists,
    draft_cm,
    drafts_twist,
    how_measured,
    millimetres,
    note_words,
    seen,
    slip,
    sources,
    title,
    wheel_facts,
    whorl_name,
)

if TYPE_CHECKING:
    from whorlpulse.findings.survey_report import SurveyReport

_WORDS: Final = (
    *(
        "repairer",
        "date",
        "unit",
        "whorl",
        "twist",
        "uses",
        "best-for",
        "drafts",
        "wheel",
        "findings",
        "findings-none",
        "how",
    ),
    "cautions",
)
#: Notes that tell whoever typed the command what else it can do; the customer's page is not the place for them.
_FOR_THE_TERMINAL: Final = frozenset({"no-draft", "one-whorl", "idle"})


def card(report: SurveyReport, signed: Signed) -> str:
    """Return the page of a report that has an answer."""
    import jinja2

    template = resources.files("whorlpulse.views").joinpath("templates", "survey_card.html").read_text("utf-8")
    made = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined).from_string(template)
    return made.render(_parts(report, signed))


def _parts(report: SurveyReport, signed: Signed) -> dict[str, Any]:
    return {
        "title": title(report),
        "signed": signed,
        "words": {key: answer(key) for key in _WORDS},
        "doubtful": answer("doubtful") if report.doubtful else "",
        "simulated": answer("simulated") if report.simulated else "",
        "whorls": _whorls(report),
        "sources": sources(report),
        "uses": _uses(report),
        "at_draft": "" if report.draft_m is None else at_draft(report.draft_m),
        "drafts": _drafts(report),
        "wheel": wheel_facts(report.wheel),
        "seen": seen(report),
        "how": how_measured(report),
        "notes": [note_words(n) for n in report.notes if n.key not in _FOR_THE_TERMINAL],
        "cautions": [answer(key) for key in CAUTIONS],
        "made_by": answer("made-by", capture=report.capture, version=__version__),
    }


def _whorls(report: SurveyReport) -> dict[str, Any]:
    """The table of ratios, with the columns of which something is known."""
    columns = {
        "no-slip": [None if w.no_slip is None else measured(w.no_slip) for w in report.whorls],
        "slip": [None if w.slip is None else slip(w) for w in report.whorls],
        "groove": [None if w.diameter is None else millimetres(w.diameter) for w in report.whorls],
    }
    kept = {key: cells for key, cells in columns.items() if any(cells)}
    rows = []
    for i, whorl in enumerate(report.whorls):
        ratio, half = pair(whorl.ratio.value, whorl.ratio.half_width)
        cells = [kept[key][i] or answer("slip-unknown" if key == "slip" else "unknown") for key in kept]
        rows.append({"name": whorl_name(report, whorl), "ratio": ratio, "half": half, "cells": cells})
    return {"head": [answer(key) for key in ("whorl", "ratio", *kept)], "rows": rows}


def _uses(report: SurveyReport) -> list[tuple[str, str, str]]:
    return [
        (whorl_name(report, w), both_twists(w.use.twist_tpm), best_for(w)) for w in report.whorls if w.use is not None
    ]


def _drafts(report: SurveyReport) -> dict[str, Any]:
    return {
        "head": [answer("whorl"), *(drafts_twist(tpi) for tpi in DRAFT_TWISTS_TPI)],
        "rows": [[whorl_name(report, w), *(draft_cm(w, tpi) for tpi in DRAFT_TWISTS_TPI)] for w in report.whorls],
    }
