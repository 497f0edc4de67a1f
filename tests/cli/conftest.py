"""Captures for the command tests, simulated once, and a way to run the command in this process."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from whorlpulse.cli.exits import run


class Ran(NamedTuple):
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def whorlpulse(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    """Run `whorlpulse WORDS` here."""

    def typed(*words: object) -> Ran:
        capsys.readouterr()
        code = run([str(w) for w in words])
        out, err = capsys.readouterr()
        return Ran(code, out, err)

    return typed


@pytest.fixture(scope="session")
def captures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a few simulated captures, each in a folder of its scenario's name."""
    place = tmp_path_factory.mktemp("captures")
    for name in ("steady", "three-whorls", "skein-soft", "skein-marks"):
        assert run(["simulate", name, "-o", str(place / name), "--seed", "1"]) == 0
    return place
