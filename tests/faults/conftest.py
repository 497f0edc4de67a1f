"""What the tests of faults share: the board on a pseudo-terminal and the recorder of tests/record."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
for folder in (HERE, HERE.parent, HERE.parent / "record"):
    sys.path.insert(0, str(folder))


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return tmp_path / "wheel.pulses"


@pytest.fixture
def dice(request: pytest.FixtureRequest) -> random.Random:
    """Other moments in each test and each round, and the same ones when it is run again."""
    return random.Random(request.node.nodeid)
