"""What tests of many commands share: a way to run the command in this process, and the tests' own helpers."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from whorlpulse.cli.exits import run

sys.path.insert(0, str(Path(__file__).resolve().parent))


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
        return Ran(code, *capsys.readouterr())

    return typed
