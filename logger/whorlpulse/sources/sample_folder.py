"""The sample captures that come with the program: a folder each, all of them simulated."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import whorlpulse.sources

_NAME: Final = "sample-captures"


def sample_folders() -> dict[str, Path]:
    """Return the samples' folders by name, each with log.pulses, NOTES.md and what belongs to the log; {} without any.

    An installed program has them beside its modules; in a copy of the project they are at its top.
    """
    package = Path(whorlpulse.sources.__file__).parents[1]
    for top in (package / _NAME, package.parents[1] / _NAME):
        if top.is_dir():
            return {log.parent.name: log.parent for log in sorted(top.glob("*/log.pulses"))}
    return {}
