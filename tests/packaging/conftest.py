"""The project built as for others: a wheel from a copy of what it is built from."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest
from building import PARTS, ROOT, run


@pytest.fixture(scope="session")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of what the wheel is built from, since a build leaves files behind."""
    place = tmp_path_factory.mktemp("copy")
    for name in PARTS:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, place / name, ignore=shutil.ignore_patterns("__pycache__", "*.egg-info"))
        else:
            (place / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, place / name)
    return place


@pytest.fixture(scope="session")
def wheel(copy: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this project."""
    out = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", out, copy, cwd=out)
    (made,) = out.glob("*.whl")
    return made
