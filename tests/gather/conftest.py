"""A guild's folder: the sample captures under its members' names, all simulated, and some files that are no good."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from guilds import SAMPLES

from whorlpulse.cli.exits import run


class Ran(NamedTuple):
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def gather(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    """Run `whorlpulse gather WORDS` here."""

    def typed(*words: object) -> Ran:
        capsys.readouterr()
        code = run(["gather", *map(str, words)])
        return Ran(code, *capsys.readouterr())

    return typed


@pytest.fixture
def guild(tmp_path: Path) -> Path:
    """Three members' logs, two of them sound and one with a plan, at different depths."""
    top = tmp_path / "guild"
    shutil.copytree(SAMPLES / "steady-minute-and-a-half", top / "ash")
    shutil.copytree(SAMPLES / "skein-gone-soft", top / "birch" / "2025" / "spring")
    shutil.copytree(SAMPLES / "unlabelled-wheel", top / "cedar")
    return top
