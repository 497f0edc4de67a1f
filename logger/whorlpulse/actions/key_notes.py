"""Notes by key while a recording runs: a length drawn in, a mark, or the wish to stop.

The moment of a note is that of its first key, not that of the Return after it was typed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from whorlpulse.sources.keyboard import ERASE, ESCAPE, RETURN, Key
from whorlpulse.views import recording_line as words

#: Reads a typed length into value and unit as a `length` line has them; raises ValueError if it is not clear.
ReadLength = Callable[[str], tuple[str, str]]
_LONGEST = 200


@dataclass(frozen=True, slots=True)
class Note:
    """A line for the log: its key, the raw tick it belongs to, and the text behind the tick."""

    key: str
    tick: int
    text: str


class KeyNotes:
    """Follows the keys. asked: what is being asked for, with what was typed; says: the answer to the last note."""

    def __init__(self, read_length: ReadLength, tick_at: Callable[[float], int | None]) -> None:
        """tick_at: the board's raw tick at a monotonic time in seconds, None if it is not known."""
        self._read_length, self._tick_at = read_length, tick_at
        self._kind: str | None = None
        self._tick = 0
        self._typed = ""
        self._unclear = False
        self.says: str | None = None
        self.stop = False

    @property
    def asked(self) -> str | None:
        """What the line shows while something is being typed."""
        if self._kind is None:
            return None
        if self._unclear and not self._typed:
            return words.LENGTH_UNCLEAR
        return (words.ASK_LENGTH if self._kind == "length" else words.ASK_MARK) + self._typed

    def press(self, key: Key) -> Note | None:
        """Take a key; return the note that it completes, if it does."""
        if self._kind is None:
            self._begin(key)
            return None
        if key.text == ESCAPE:
            self._kind, self.says = None, words.NOT_KEPT
        elif key.text == ERASE:
            self._typed = self._typed[:-1]
        elif key.text == RETURN:
            return self._complete()
        elif key.text.isprintable() and len(self._typed) < _LONGEST:
            self._typed += key.text
        return None

    def _begin(self, key: Key) -> None:
        letter = key.text.lower()
        if letter == "q":
            self.stop = True
        if letter not in ("l", "m"):
            return
        tick = self._tick_at(key.at_s)
        if tick is None:
            self.says = words.NO_TICK_YET
            return
        self._kind, self._tick, self._typed = ("length" if letter == "l" else "mark"), tick, ""
        self._unclear, self.says = False, None

    def _complete(self) -> Note | None:
        kind, typed = self._kind, " ".join(self._typed.split())
        if kind == "mark":
            self._kind, self.says = None, words.MARK_KEPT
            return Note("mark", self._tick, typed)
        try:
            value, unit = self._read_length(typed)
        except ValueError:
            self._unclear, self._typed = True, ""
            return None
        self._kind, self.says = None, words.LENGTH_KEPT.format(value=value, unit=unit)
        return Note("length", self._tick, f"{value} {unit}")
