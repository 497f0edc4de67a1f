"""`whorlpulse` typed alone, as text: what to do next. Light: nothing but the standard library is loaded for it."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from whorlpulse.findings.catalogue.first_steps import FIRST_STEPS

_NEWCOMER = (
    ("without", ("whorlpulse demo",)),
    ("tapped", ("whorlpulse tally",)),
    (
        "wired",
        (
            "whorlpulse find",
            "whorlpulse record wheel.pulses --from serial:auto",
            "whorlpulse ratio wheel.pulses",
        ),
    ),
)
_MORE = ("more", ("whorlpulse --help", "whorlpulse ratio --help"))


def text(logs: Sequence[str], width: int) -> str:
    """Return the text. logs: the folder's pulse logs as a shell would take them, newest first; width: characters."""
    blocks: list[tuple[str, Sequence[str]]] = [(_said("title"), ())]
    if logs:
        said = _said("logs").format(number=len(logs), log=logs[0])
        blocks.append((said, (f"whorlpulse report {logs[0]} -o page.html", f"whorlpulse check {logs[0]}")))
    blocks += [(_said(key), commands) for key, commands in (*_NEWCOMER, _MORE)]
    return "\n\n".join(_block(said, commands, width) for said, commands in blocks)


def _said(key: str) -> str:
    return FIRST_STEPS[key]


def _block(said: str, commands: Sequence[str], width: int) -> str:
    """Return a sentence filled to the width, and its commands below it, each on a line of its own to be copied."""
    filled = textwrap.fill(said, width - 2, initial_indent="  ", subsequent_indent="  ", break_long_words=False)
    return "\n".join([filled, *(f"    {command}" for command in commands)])
