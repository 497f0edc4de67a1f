"""Whether standard output is a terminal that pictures can be drawn on, and with what."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from whorlpulse.views.terminal_pictures import Pen

#: Terminals that know no braille dots, though they may speak UTF-8.
_PLAIN_TERMINALS: Final = frozenset({"linux", "vt100", "vt220", "ansi", "cons25"})


def picture(draw: Callable[[Pen], str | None], *, json: bool, answered: bool) -> str | None:
    """Return what `draw` makes for this terminal; None, and nothing is drawn, where output goes elsewhere.

    answered: whether the report has an answer; without one there is no picture.
    """
    if json or not answered or not sys.stdout.isatty() or os.environ.get("TERM", "dumb") == "dumb":
        return None
    from whorlpulse.views.terminal_pictures import Pen

    from .show import page

    return draw(Pen(page().width, braille=_braille()))


def _braille() -> bool:
    if os.environ.get("TERM") in _PLAIN_TERMINALS:
        return False
    try:
        "⣿▲█┤".encode(sys.stdout.encoding or "ascii")
    except UnicodeEncodeError:
        return False
    return True
