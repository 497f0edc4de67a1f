"""Ctrl-C while a command is being loaded is not forgotten.

Python raises KeyboardInterrupt wherever it stands, also inside a callback (of a weak reference, say, as imports have
them) or a library's C code that throws every exception away. Then the key was pressed, and a command that runs until
it is pressed would run on. So the press is noted, too, and looked at once more when such a command begins.
"""

from __future__ import annotations

import signal
import sys
from collections.abc import Coroutine
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from types import FrameType

_pressed = False
_T = TypeVar("_T")


def heed() -> None:
    """Note Ctrl-C from here on, unless it is ignored, as in a shell's background."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _note)
        sys.unraisablehook = _unraisable


def until_done(work: Coroutine[Any, Any, _T]) -> _T:
    """Run what ends by Ctrl-C, in asyncio's own way; raises KeyboardInterrupt if it was pressed before."""
    import asyncio

    if signal.getsignal(signal.SIGINT) is _note:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    if _pressed:
        work.close()
        raise KeyboardInterrupt
    return asyncio.run(work)


def _note(number: int, frame: FrameType | None) -> None:
    global _pressed
    _pressed = True
    raise KeyboardInterrupt


def _unraisable(fault: sys.UnraisableHookArgs) -> None:
    """Say nothing of an interrupt that went astray."""
    if not issubclass(fault.exc_type, KeyboardInterrupt):
        sys.__unraisablehook__(fault)
