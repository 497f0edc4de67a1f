"""`whorlpulse` typed alone: looks into the folder for pulse logs and says what to do next."""

from __future__ import annotations

import shlex
import shutil
from pathlib import Path

import typer

_WIDEST = 96


def say_first_steps(folder: Path) -> None:
    """Print what to do next, by the pulse logs in the folder; a folder that can't be read has none."""
    from whorlpulse.views.first_steps import text

    width = max(min(shutil.get_terminal_size().columns, _WIDEST), 40)
    typer.echo(text(_logs(folder), width))


def _logs(folder: Path) -> list[str]:
    """Return the names of the folder's logs, newest first, quoted as a shell needs them."""
    try:
        found = [(path.stat().st_mtime, path.name) for path in folder.glob("*.pulses") if path.is_file()]
    except OSError:
        return []
    names = [name for _, name in sorted(found, reverse=True)]
    return [shlex.quote(name if not name.startswith("-") else f"./{name}") for name in names]
