"""The installed command, run as a process, and two simulated captures for it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

Command = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="session")
def command() -> Command:
    """Run `whorlpulse WORDS` in a process of its own."""

    def ran(*words: object, **more: object) -> subprocess.CompletedProcess[str]:
        line = [sys.executable, "-m", "whorlpulse", *map(str, words)]
        env = {**os.environ, "PYTHONIOENCODING": "utf-8", **more.pop("env", {})}
        return subprocess.run(line, capture_output=True, text=True, timeout=60, check=False, env=env, **more)

    return ran


@pytest.fixture(scope="session")
def skein(tmp_path_factory: pytest.TempPathFactory, command: Command) -> Path:
    """The folder of the simulated skein with a soft stretch."""
    place = tmp_path_factory.mktemp("skein")
    assert command("simulate", "skein-soft", "-o", place, "--replace").returncode == 0
    return place
