"""A contributor's walk, read from its page: files to write and edits to make, in order.

In a page a block whose fence names a file (```` ```python logger/… ````) is that file whole; one that says `diff` and a
file has hunks parted by `@@`: lines behind a blank are there, `-` goes, `+` comes. There are no line numbers: what a
hunk wants to find must stand in the file once, and once only.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

_FENCE = re.compile(r"^```(python|diff) (\S+)\n(.*?)^```$", re.DOTALL | re.MULTILINE)


class StaleError(AssertionError):
    """The page no longer fits the tree."""


@dataclass(frozen=True)
class Step:
    """path: below the root; kind: `python`, a new file, or `diff`, an edit; body: the block's text."""

    path: str
    kind: str
    body: str

    def apply(self, root: Path) -> None:
        """Write the file or make the edit below root; StaleError where the page doesn't fit."""
        file = root / self.path
        if self.kind == "python":
            if file.exists():
                raise StaleError(f"{self.path} is there already")
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(self.body, encoding="utf-8")
            return
        text = file.read_text(encoding="utf-8")
        for hunk in self.body.split("@@\n"):
            lines = hunk.splitlines(keepends=True)
            old = "".join(line[1:] for line in lines if line[0] in " -")
            new = "".join(line[1:] for line in lines if line[0] in " +")
            if text.count(old) != 1:
                raise StaleError(f"{self.path} has {text.count(old)} places like this, not one:\n{old}")
            text = text.replace(old, new)
        file.write_text(text, encoding="utf-8")


def steps_of(page: str) -> tuple[Step, ...]:
    """Return the steps of a page in order."""
    return tuple(Step(path, kind, body) for kind, path, body in _FENCE.findall(page))
