"""How a command ends: 0 done, 1 the log can't answer, 2 usage or unreadable input, 130 interrupted.

Whatever goes wrong, the user reads one line on standard error: what is wrong, where, what to do.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import Final

import typer

DONE: Final = 0
CANNOT_SAY: Final = 1
BAD_INPUT: Final = 2
INTERRUPTED: Final = 130

#: The class of all usage errors, wherever typer keeps it.
_UsageError: Final = typer.BadParameter.__bases__[0]


class InputError(Exception):
    """Input that can't be used; the message is one line for the user."""


def run(words: Sequence[str]) -> int:
    """Run the command line `words` (without the program's name) and return its exit code."""
    from .app import app
    from .completion import prepare

    prepare()
    try:
        code = app(list(words), prog_name="whorlpulse", standalone_mode=False)
        sys.stdout.flush()
    except BrokenPipeError:  # whoever read the output has enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except (KeyboardInterrupt, typer.Abort):
        return INTERRUPTED
    except Exception as fault:
        if os.environ.get("WHORLPULSE_TRACE"):
            raise
        complain(_one_line(fault, words))
        return BAD_INPUT
    return code if isinstance(code, int) else DONE


def complain(line: str) -> None:
    """Write one line to standard error, whatever is in it."""
    text = " ".join(line.split())
    typer.echo("whorlpulse: " + "".join(c if c.isprintable() else "?" for c in text), err=True)


def _one_line(fault: Exception, words: Sequence[str]) -> str:
    """Return what the user reads of a fault of the command line `words`."""
    if isinstance(fault, _UsageError):
        from .usage_words import usage_words

        return usage_words(fault, words)
    if isinstance(fault, _expected()):
        return str(fault)
    from whorlpulse.findings.catalogue import sentence

    return sentence("unexpected").format(fault=f"{type(fault).__name__}: {str(fault)[:200]}")


def _expected() -> tuple[type[Exception], ...]:
    """Return the faults whose message is already the line for the user."""
    from whorlpulse.sources.files import SourceError

    from .plan_file import PlanError
    from .wheel_file import WheelError

    return (InputError, SourceError, PlanError, WheelError)
