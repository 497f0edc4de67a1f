"""The bench card as text for a terminal, and how to survey a wheel."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import TYPE_CHECKING

from whorlpulse.views.figures import given, measured
from whorlpulse.views.layout import Page, headline, joined, paragraph, table
from whorlpulse.views.survey_words import (
    CAUTIONS,
    DRAFT_TWISTS_TPI,
    Signed,
    answer,
    at_draft,
    best_for,
    both_twists,
    draft_cm,
    how_measured,
    millimetres,
    no_slip,
    note_words,
    saved_lines,
    seen,
    slip,
    sources,
    title,
    wheel_facts,
    whorl_name,
)

if TYPE_CHECKING:
    from whorlpulse.findings.report import Note
    from whorlpulse.findings.survey_report import Saving, SurveyReport, WhorlCard

#: Longer names are cut in the table.
_LONGEST_NAME = 16


def text(report: SurveyReport, page: Page, signed: Signed) -> str:
    """Return whorls and ratios first, then their use, slip's reference, findings, and notes."""
    return joined(
        headline(page, _cut(title(report), page.width - 24), answer("measured-on", date=signed.date)),
        paragraph(page, answer("simulated")) if report.simulated else None,
        paragraph(page, answer("doubtful")) if report.doubtful else None,
        _whorls(report),
        _uses(report, page) if report.draft_m is not None else _drafts(report, page),
        _wheel(report),
        *(_finding(words, page, fault=fault) for fault, words in seen(report)),
        paragraph(page, " ".join([*sources(report), *how_measured(report)])),
        bullets(page, (note_words(n) for n in report.notes)),
    )


def guide(steps: Iterable[Note], page: Page) -> str:
    """Return how to survey a wheel, the steps numbered, with the cautions."""
    lines = [
        textwrap.fill(note_words(step), page.width - 2, initial_indent=f"  {number}. ", subsequent_indent="     ")
        for number, step in enumerate(steps, 1)
    ]
    return joined(headline(page, answer("guide")), "\n".join(lines), bullets(page, (answer(key) for key in CAUTIONS)))


def saving(what: Saving, file: str, page: Page) -> str:
    """Return what was written into the wheel file, and what was not and why."""
    done = [f"  {answer('saved', file=file)}", *_indented(saved_lines(what), page)] if what.saved else []
    left = [f"  {answer('not-saved')}", *_indented(map(note_words, what.refused), page)] if what.refused else []
    creeps = any(not one.from_reference for one in what.saved)
    return joined("\n".join(done), "\n".join(left), paragraph(page, answer("what-is-saved")) if creeps else None)


def _indented(lines: Iterable[str], page: Page) -> list[str]:
    return [
        textwrap.fill(line, page.width - 2, initial_indent="    ", subsequent_indent="      ", break_on_hyphens=False)
        for line in lines
    ]


def bullets(page: Page, sentences: Iterable[str]) -> str:
    """Return sentences, one bullet each."""
    return "\n".join(
        textwrap.fill(words, page.width - 2, initial_indent="  · ", subsequent_indent="    ") for words in sentences
    )


def _cut(name: str, width: int) -> str:
    return name if len(name) <= width else name[: width - 1] + "…"


def _name(report: SurveyReport, whorl: WhorlCard) -> str:
    return _cut(whorl_name(report, whorl), _LONGEST_NAME)


def _whorls(report: SurveyReport) -> str:
    """A table of the whorls, with the columns of which something is known."""
    columns = {
        "whorl": [_name(report, w) for w in report.whorls],
        "ratio": [measured(w.ratio) for w in report.whorls],
        "no-slip": [no_slip(w) for w in report.whorls],
        "slip": [slip(w) for w in report.whorls],
        "groove": [millimetres(w.diameter) for w in report.whorls],
    }
    kept = {key: cells for key, cells in columns.items() if set(cells) != {answer("unknown")}}
    return table([answer(key) for key in kept], zip(*kept.values(), strict=True), left=range(len(kept)))


def _uses(report: SurveyReport, page: Page) -> str:
    assert report.draft_m is not None
    rows = [(_name(report, w), both_twists(w.use.twist_tpm), best_for(w)) for w in report.whorls if w.use is not None]
    head = tuple(answer(key) for key in ("whorl", "twist", "best-for"))
    return f"{paragraph(page, at_draft(report.draft_m))}\n{table(head, rows, left=(0, 1, 2))}"


def _drafts(report: SurveyReport, page: Page) -> str:
    head = (answer("whorl"), *(f"{given(tpi)} tpi" for tpi in DRAFT_TWISTS_TPI))
    rows = [(_name(report, w), *(draft_cm(w, tpi) for tpi in DRAFT_TWISTS_TPI)) for w in report.whorls]
    return f"{paragraph(page, answer('drafts'))}\n{table(head, rows, left=(0,))}"


def _wheel(report: SurveyReport) -> str | None:
    rows = wheel_facts(report.wheel)
    return table((answer("wheel"), ""), rows, left=(0, 1)) if rows else None


def _finding(words: str, page: Page, *, fault: bool) -> str:
    mark = "●" if fault else "○"
    return textwrap.fill(words, page.width - 2, initial_indent=f"  {mark} ", subsequent_indent="    ")
