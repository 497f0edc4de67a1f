"""Style, types and the house's import contract: run here, so that one command is the whole gate."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def expect_clean(*words: str) -> None:
    beside = Path(sys.executable).parent / words[0]
    line = [str(beside) if beside.exists() else words[0], *words[1:]]
    env = {**os.environ, "PYTHONPATH": str(ROOT / "logger"), "NO_COLOR": "1"}
    ran = subprocess.run(line, cwd=ROOT, capture_output=True, text=True, timeout=600, check=False, env=env)
    assert ran.returncode == 0, (ran.stdout + ran.stderr)[-4000:]


@pytest.mark.parametrize("words", [("check",), ("format", "--check")])
def test_style(words):
    expect_clean("ruff", *words, "logger", "tests", "firmware-notes")


def test_types():
    expect_clean("mypy")


def test_the_import_contract():
    expect_clean("lint-imports", "--no-cache")


def test_the_contract_covers_every_part_of_the_house():
    import tomllib

    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    house = next(c for c in contracts if c["id"] == "house")
    assert house["exhaustive"] is True
    named = {part.strip(" ()") for layer in house["layers"] for part in layer.split("|")}
    there = {
        p.stem for p in (ROOT / "logger" / "whorlpulse").iterdir() if p.suffix == ".py" or (p / "__init__.py").exists()
    }
    assert there - {"__init__", "__main__"} <= named
