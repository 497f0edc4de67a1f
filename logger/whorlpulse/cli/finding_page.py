"""`whorlpulse help ID`: a finding's section of docs/findings.md, which comes with the program."""

from __future__ import annotations

import re
import textwrap
from pathlib import Path
from typing import Final

_PACKAGE: Final = Path(__file__).parents[1]
#: An installed program has the page among its modules; a copy of the project has it in docs/.
_PLACES: Final = (_PACKAGE / "findings.md", _PACKAGE.parents[1] / "docs" / "findings.md")
_WIDTH: Final = 78


def finding_ids() -> tuple[str, ...]:
    """Return the names of the findings that have a section."""
    return tuple(re.findall(r"^### `([a-z-]+)`$", _page(), re.MULTILINE))


def section(id: str) -> str | None:
    """Return a finding's section as plain text; None where there is none of that name."""
    found = re.search(rf"^### `{re.escape(id)}`\n(.*?)(?=^#|\Z)", _page(), re.MULTILINE | re.DOTALL)
    if found is None:
        return None
    plain = re.sub(r"\[([^]]*)\]\([^)]*\)", r"\1", found[1]).replace("`", "").replace("*", "")
    paragraphs = [" ".join(part.split()) for part in plain.split("\n\n") if part.strip()]
    filled = [textwrap.fill(p, _WIDTH, initial_indent="  ", subsequent_indent="  ") for p in paragraphs]
    return "\n\n".join([f"  {id}", *filled])


def _page() -> str:
    for place in _PLACES:
        if place.is_file():
            return place.read_text(encoding="utf-8")
    return ""
