"""Which shaft a signal or a column belongs to, guessed from its name, or as the user said."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Final

from whorlpulse.importers.recording import Unreadable

_WORDS: Final = {"wheel": "w", "flyer": "f", "bobbin": "b", "roller": "y", "yarn": "y"}
#: Characters of a name that are shown.
_LONGEST: Final = 50
_LETTERS: Final = frozenset("wfby")


def letter_of(name: str) -> str | None:
    """Return the letter of the shaft that a name speaks of, or None.

    A word (wheel, flyer, bobbin, roller, yarn) anywhere in the name, or else a letter w, f, b or y that stands
    alone between digits, underscores and the like.
    """
    low = name.lower()
    found = {letter for word, letter in _WORDS.items() if word in low}
    if not found:
        found = {part for part in re.split(r"[^a-z]+", low) if part in _LETTERS}
    return found.pop() if len(found) == 1 else None


def by_name(names: Mapping[str, str], what: str) -> dict[str, str]:
    """Return {letter: name} for those of `names` (each with the part of it to judge by) that speak of a shaft.

    A lone b or y is taken for bobbin or roller only beside a wheel or a flyer: A and B are the names of any two
    things. what: how the names are called in a complaint. Raises Unreadable when two names speak of one shaft.
    """
    found: dict[str, str] = {}
    for name, judged in names.items():
        letter = letter_of(judged)
        if letter is None:
            continue
        if letter in found:
            raise Unreadable(
                f"has two {what} for {letter}, {found[letter]!r} and {name!r}: say which, as {letter}={found[letter]}"
            )
        found[letter] = name
    sure = any(letter in found for letter in "wf") or any(word in n.lower() for n in found.values() for word in _WORDS)
    return found if sure else {}


def listed(names: Iterable[str], most: int = 12) -> str:
    """Return names for a sentence, the first so many of them."""
    kept = list(names)
    shown = ", ".join(repr(name if len(name) <= _LONGEST else f"{name[: _LONGEST - 3]}...") for name in kept[:most])
    return (shown or "none") + (f" and {len(kept) - most} more" if len(kept) > most else "")


def told(mapping: Mapping[str, str]) -> str:
    """Return a mapping as the user would write it."""
    return " ".join(f"{letter}={name}" for letter, name in mapping.items())
