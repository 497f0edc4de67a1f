"""What goes to the screen: text as the terminal can show it, or the JSON object, and the exit code."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable
from typing import Any, Final, TypeVar

import typer

from whorlpulse.findings.report import Note
from whorlpulse.views.figures import words
from whorlpulse.views.json_object import as_json
from whorlpulse.views.layout import Page

from .exits import CANNOT_SAY, complain

#: For terminals that know ASCII only.
_ASCII: Final = str.maketrans(
    {"±": "+-", "–": "-", "·": ".", "●": "*", "○": "o", "│": "|", "─": "-", "°": " deg", "³": "3", "…": "~"}
)
_WIDEST: Final = 96
Report = TypeVar("Report")


def show(
    report: Report,
    text: Callable[[Report, Page], str],
    json_object: Callable[[Report], dict[str, Any]],
    *,
    json: bool,
    cannot_say: Note | None = None,
) -> None:
    """Print a report as text or JSON; one that has no answer is one line on standard error and exit code 1.

    As JSON it is printed all the same, its unknowns null and the reason among its notes.
    """
    if json:
        typer.echo(as_json(json_object(report)))
    elif cannot_say is None:
        say(text(report, page()))
    if cannot_say is not None:
        name = getattr(report, "capture", "")
        complain(f"{name}: {words(cannot_say)}")
        raise typer.Exit(CANNOT_SAY)


def say(text: str) -> None:
    """Print text, in plain ASCII where standard output can't do better."""
    try:
        text.encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        text = text.translate(_ASCII).encode("ascii", "replace").decode("ascii")
    typer.echo(text)


def page() -> Page:
    """Return the page that standard output is: its width, and whether it may be emphasised."""
    width = min(shutil.get_terminal_size().columns, _WIDEST)
    styled = sys.stdout.isatty() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    return Page(max(width, 40), styled)
