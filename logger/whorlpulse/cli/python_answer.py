"""Answers for Python callers: a report with its text, its plain values, and how a notebook shows it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from whorlpulse.views import notebook
from whorlpulse.views.figures import words
from whorlpulse.views.json_object import as_json
from whorlpulse.views.layout import Page, headline

if TYPE_CHECKING:
    from whorlpulse.findings.full_report import FullReport
    from whorlpulse.views.report_answer import Asker

R = TypeVar("R")


@dataclass(frozen=True, repr=False)
class Answer(Generic[R]):
    """What a question about a log gave. report: everything, in SI units. answered: False when the log can't tell.

    `print(answer)` shows what the command shows; in a notebook the answer shows itself.
    """

    report: R
    answered: bool
    _about: str
    _text: Callable[[Page], str]
    _object: Callable[[], dict[str, Any]]

    def as_dict(self) -> dict[str, Any]:
        """Return the object that the command prints with --json."""
        made: dict[str, Any] = json.loads(as_json(self._object()))
        return made

    def __str__(self) -> str:
        return self._text(Page())

    def __repr__(self) -> str:
        first = next(line.strip() for line in str(self).splitlines() if line.startswith("  "))
        return f"<{type(self).__name__} of {self._about}: {' '.join(first.split())}>"

    def _repr_html_(self) -> str:
        return notebook.piece(self._text(notebook.PAGE), self._about)


@dataclass(frozen=True, repr=False)
class FullAnswer(Answer["FullReport"]):
    """Everything that a log says; in a notebook it shows the report's page."""

    def page(self, whom: Asker = "spinner", *, script: bool = True) -> str:
        """Return the page, one HTML document that needs nothing else. script: pictures that move."""
        from whorlpulse.views.report_page import Look, html

        return html(self.report, Look(whom, script))

    def _repr_html_(self) -> str:
        return notebook.framed(self.page(script=False))


def answer(made: Any, view: Any, about: str) -> Answer[Any]:
    """Return the answer that a report is, shown by the command's own view. about: the log's name, and what it is."""

    def text(page: Page) -> str:
        if made.cannot_say is not None:
            return headline(page, f"{made.capture}: {words(made.cannot_say)}")
        said: str = view.text(made, page)
        return said

    return Answer(made, made.cannot_say is None, about, text, lambda: view.json_object(made))


def full_answer(full: FullReport, about: str) -> FullAnswer:
    """Return the answer that the report of everything is."""
    from whorlpulse.views.report_figures import objects_of

    return FullAnswer(full, full.answers, about, lambda page: _all_text(full, page), lambda: dict(objects_of(full)))


def _all_text(full: FullReport, page: Page) -> str:
    """The answers one after another, each under its question's name; those that there are come first."""
    from whorlpulse.findings.catalogue.page import TITLES
    from whorlpulse.views import cadence, check, ratio, slip, twist

    views: tuple[tuple[str, Any, Any], ...] = (
        ("twist", full.twist, twist),
        ("ratio", full.ratio, ratio),
        ("slip", full.slip, slip),
        ("cadence", full.cadence, cadence),
        ("health", full.health, check),
    )
    ordered = sorted(views, key=lambda v: v[1].cannot_say is not None)
    return "\n\n".join(
        f"{TITLES[key]}\n\n{answer(made, view, full.capture)._text(page)}" for key, made, view in ordered
    )
