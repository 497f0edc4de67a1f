"""What a report page is made of: sections of sentences, pictures, tables, findings and notes, still without markup."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from whorlpulse.findings.catalogue.page import TITLES
from whorlpulse.views.report_words import sentence

if TYPE_CHECKING:
    from collections.abc import Callable

    from whorlpulse.findings.report import Note
    from whorlpulse.views.charts.chart import Chart, Unsaid
    from whorlpulse.views.report_figures import Figure


@dataclass(frozen=True)
class Table:
    """head and rows of cells; numbers: columns set to the right; below: what is left out."""

    head: tuple[str, ...]
    rows: tuple[tuple[str | Figure, ...], ...]
    numbers: tuple[int, ...] = ()
    caption: str = ""
    below: str = ""


@dataclass(frozen=True)
class Tile:
    """One answer in large figures: what it is of, the figure, a second one, a few words."""

    key: str
    label: str
    figures: tuple[str | Figure, ...]
    small: tuple[str | Figure, ...] = ()
    words: str = ""


@dataclass(frozen=True)
class Told:
    """A finding in words."""

    says: str
    why: str
    do: str
    sure: str
    fault: bool


@dataclass(frozen=True)
class SideBySide:
    """One picture of two logs."""

    title: str
    first: Chart | Unsaid
    second: Chart | Unsaid


@dataclass(frozen=True)
class Section:
    """One part of the page, in the order in which it is read."""

    key: str
    title: str
    sentences: tuple[str, ...] = ()
    items: tuple[str, ...] = ()
    charts: tuple[Chart | Unsaid, ...] = ()
    tables: tuple[Table, ...] = ()
    told: tuple[Told, ...] = ()
    notes: tuple[str, ...] = ()
    sides: tuple[SideBySide, ...] = ()


def unanswered(key: str, why: Note | None, notes: tuple[Note, ...], by: Callable[[Note], str]) -> Section:
    """Return the section of a question that this log can't answer: why, briefly. by: puts its notes into words."""
    shown = tuple(by(note) for note in notes if note != why)
    return Section(key, TITLES[key], (sentence(why),), notes=shown)
