"""A guild's folder: the sample captures under its members' names, all simulated, and some files that are no good."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from guilds import SAMPLES


@pytest.fixture
def gather(whorlpulse: Callable[..., Any]) -> Callable[..., Any]:
    """Run `whorlpulse gather WORDS` here."""
    return partial(whorlpulse, "gather")


@pytest.fixture
def guild(tmp_path: Path) -> Path:
    """Three members' logs, two of them sound and one with a plan, at different depths."""
    top = tmp_path / "guild"
    shutil.copytree(SAMPLES / "steady-minute-and-a-half", top / "ash")
    shutil.copytree(SAMPLES / "skein-gone-soft", top / "birch" / "2025" / "spring")
    shutil.copytree(SAMPLES / "unlabelled-wheel", top / "cedar")
    return top
