"""Captures for the command tests, simulated once."""

from __future__ import annotations

from pathlib import Path

import pytest

from whorlpulse.cli.exits import run


@pytest.fixture(scope="session")
def captures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a few simulated captures, each in a folder of its scenario's name."""
    place = tmp_path_factory.mktemp("captures")
    for name in ("steady", "three-whorls", "skein-soft", "skein-marks"):
        assert run(["simulate", name, "-o", str(place / name), "--seed", "1"]) == 0
    return place
