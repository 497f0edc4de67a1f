"""A guild's folder: the sample captures under its members' names, all simulated, and some files that are no good."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from whorlpulse.cli.exits import run

SAMPLES = Path(__file__).resolve().parents[2] / "sample-captures"


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


def rows_of(path: Path) -> dict[str, dict[str, Any]]:
    """The rows of a .jsonl by log, read without the program's own reader."""
    rows = [json.loads(line) for line in path.read_text().splitlines()]
    return {row["log"]: row for row in rows}


def truth_beside(log: Path) -> dict[str, Any]:
    """What really happened in a simulated capture."""
    truth: dict[str, Any] = json.loads(log.with_name("truth.json").read_text())
    assert truth["simulated"] is True
    return truth
