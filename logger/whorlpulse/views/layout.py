"""The look of text answers: a headline, paragraphs, tables and notes within the page's width."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from whorlpulse.views.figures import words

if TYPE_CHECKING:
    from whorlpulse.findings.report import Note

_INDENT: Final = "  "
_GAP: Final = "   "


@dataclass(frozen=True)
class Page:
    """Where text goes. width: in characters; styled: whether the headline may be bold."""

    width: int = 80
    styled: bool = False


def headline(page: Page, text: str, beside: str = "") -> str:
    """Return the answer's line: the answer itself bold where the page can, and a few words beside it."""
    shown = f"\x1b[1m{text}\x1b[0m" if page.styled else text
    return f"{_INDENT}{shown}{_GAP}{beside}".rstrip()


def paragraph(page: Page, text: str) -> str:
    """Return text filled to the page's width."""
    return textwrap.fill(text, page.width - 2, initial_indent=_INDENT, subsequent_indent=_INDENT)


def table(head: Sequence[str], rows: Iterable[Sequence[str]], left: Sequence[int] = (), gap: str = _GAP) -> str:
    """Return aligned columns: to the right, those numbered in `left` to the left."""
    lines = [list(head), *[list(row) for row in rows]]
    widths = [max(len(line[i]) for line in lines) for i in range(len(head))]

    def shown(line: Sequence[str]) -> str:
        cells = [c.ljust(w) if i in left else c.rjust(w) for i, (c, w) in enumerate(zip(line, widths, strict=True))]
        return (_INDENT + gap.join(cells)).rstrip()

    return "\n".join(shown(line) for line in lines)


def bullets(page: Page, notes: Iterable[Note]) -> str:
    """Return notes, one bullet each."""
    return "\n".join(
        textwrap.fill(words(n), page.width - 2, initial_indent=f"{_INDENT}· ", subsequent_indent=f"{_INDENT}  ")
        for n in notes
    )


def joined(*parts: str | None) -> str:
    """Return the parts that say something, a blank line between."""
    return "\n\n".join(part for part in parts if part)
