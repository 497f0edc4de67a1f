"""Answers for notebooks: a text view as a piece of HTML, and a report's page in a frame of its own.

The text views are written with a few forms only (`layout`): a headline, paragraphs, items with a mark, and lines whose
columns must stay under each other. Each form becomes its element; what is none of the others stays as it is typed.
"""

from __future__ import annotations

import re
from html import escape
from typing import Final

from whorlpulse.views.layout import Page

#: Of the text that is turned into HTML.
PAGE: Final = Page(width=88)
_MARKS: Final = ("· ", "● ", "○ ")
_COLUMNS: Final = re.compile(r"\S {2,}\S|[│─]")
_BOX: Final = (
    "max-width:760px;padding:.9em 1.2em 1em;border-left:3px solid #0b5f86;background:#fdfbf6;color:#2b2925;"
    "font:15px/1.5 Georgia,'Liberation Serif',serif"
)
_HEAD: Final = "margin:0 0 .4em;font-size:1.9em;line-height:1.25;font-variant-numeric:lining-nums"
_ASIDE: Final = "font-size:.55em;color:#6b665c"
_TYPED: Final = "margin:.7em 0;font-size:.82em;line-height:1.4;overflow-x:auto;color:inherit;background:transparent"
_FOOT: Final = "margin:.9em 0 0;font:12px/1.4 Arial,'Liberation Sans',sans-serif;color:#6b665c"
_ITEMS: Final = "margin:.6em 0;padding-left:1.2em;color:#6b665c;font-size:.93em"


def piece(text: str, about: str) -> str:
    """Return a text view as HTML, its first line large. about: what it is the answer of."""
    first, *blocks = [block for block in text.split("\n\n") if block.strip()] or [""]
    head, *rest = first.split("\n")
    parts = [_headline(head.strip()), *([_block("\n".join(rest))] if rest else []), *map(_block, blocks)]
    parts.append(f'<p style="{_FOOT}">{escape(about)}</p>')
    return f'<section aria-label="{escape(about)}" style="{_BOX}">\n' + "\n".join(parts) + "\n</section>"


def framed(page: str, height_px: int = 720) -> str:
    """Return a whole page in a frame, so that its look stays its own; scripts are off in it."""
    return (
        f'<iframe sandbox="" title="whorlpulse" style="width:100%;height:{height_px}px;border:1px solid #ddd6c6" '
        f'srcdoc="{escape(page)}"></iframe>'
    )


def _headline(line: str) -> str:
    answer, _, beside = line.partition("   ")
    aside = f' <span style="{_ASIDE}">{escape(" · ".join(beside.split("   ")).strip())}</span>' if beside else ""
    return f'<p style="{_HEAD}">{escape(answer)}{aside}</p>'


def _block(block: str) -> str:
    lines = block.split("\n")
    if _COLUMNS.search(block):
        return _typed(block)
    if lines[0].lstrip().startswith(_MARKS) and all(_is_item_or_more(line) for line in lines):
        return _items(lines)
    if all(_indent(line) == 2 for line in lines):
        return f'<p style="margin:.6em 0">{escape(_run_on(lines))}</p>'
    return _typed(block)


def _items(lines: list[str]) -> str:
    items: list[list[str]] = []
    for line in lines:
        if line.lstrip().startswith(_MARKS):
            items.append([line.lstrip()[2:]])
        else:
            items[-1].append(line)
    return f'<ul style="{_ITEMS}">' + "".join(f"<li>{escape(_run_on(item))}</li>" for item in items) + "</ul>"


def _typed(block: str) -> str:
    return f'<pre style="{_TYPED}">{escape(block)}</pre>'


def _is_item_or_more(line: str) -> bool:
    return line.lstrip().startswith(_MARKS) or _indent(line) == 4


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _run_on(lines: list[str]) -> str:
    return " ".join(line.strip() for line in lines)
