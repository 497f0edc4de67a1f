"""The command, typed in this process, on logs made from what was published."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from whorlpulse.cli.exits import run

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))  # for tests/tools.py

Answer = Callable[..., Any]


@pytest.fixture
def answer(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Answer:
    """Run `whorlpulse COMMAND FILE OPTIONS --json`, the file with this content, and return the object it prints."""

    def answered(command: str, content: bytes | str, *options: object) -> Any:
        path = tmp_path / ("plan.toml" if command == "plan" else "log.pulses")
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        capsys.readouterr()
        code = run([command, str(path), *map(str, options), "--json"])
        out, err = capsys.readouterr()
        assert (code, err) == (0, "")
        return json.loads(out)

    return answered
