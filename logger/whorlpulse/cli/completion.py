"""Shell completion: the lines that make a shell ask this program how a half-typed command may go on."""

from __future__ import annotations

import os
from typing import Final

import typer

from .exits import InputError

SHELLS: Final = ("bash", "zsh", "fish", "powershell")
#: Set by the shell's lines when they ask; typer reads it.
ASKED: Final = "_WHORLPULSE_COMPLETE"


def shell_lines(shell: str) -> str:
    """Return the lines for a shell; any other name than those of SHELLS is an InputError."""
    from typer._completion_shared import get_completion_script

    if shell not in SHELLS:
        raise InputError(f"--completion {shell!r}: say one of {', '.join(SHELLS)}")
    return get_completion_script(prog_name="whorlpulse", complete_var=ASKED, shell=shell)


def prepare() -> None:
    """Make typer ready to answer, if it is a shell that asks; costs nothing otherwise."""
    if os.environ.get(ASKED):
        from typer._completion_classes import completion_init

        completion_init()


def print_lines(shell: str | None) -> None:
    """Print a shell's lines and end, if a shell was named."""
    if shell is not None:
        typer.echo(shell_lines(shell))
        raise typer.Exit
