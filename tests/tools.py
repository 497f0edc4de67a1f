"""Outside tools that some tests need: found, or the test is skipped with its reason.

With WHORLPULSE_NO_SKIP=1 in the environment a missing tool is a failure instead: so does the full run, where
everything has been installed and a skip would hide a hole.
"""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable
from pathlib import Path

import pytest


def skips_are_failures() -> bool:
    """Whether the environment asks that nothing be skipped for want of a tool."""
    return os.environ.get("WHORLPULSE_NO_SKIP", "") not in ("", "0")


def missing(reason: str) -> None:
    """End the running test, skipped for this reason, or failed where skips are failures."""
    if skips_are_failures():
        pytest.fail(f"{reason} (WHORLPULSE_NO_SKIP is set)", pytrace=False)
    pytest.skip(reason)


def require_tool(name: str) -> str:
    """Return the path of a program, looked for beside this interpreter and then on the path.

    Ends the test by `missing` when there is none.
    """
    beside = Path(sys.executable).parent / name
    found = str(beside) if beside.is_file() and os.access(beside, os.X_OK) else shutil.which(name)
    if found is None:
        missing(f"{name} is not installed")
    assert found is not None
    return found


def require_file(path: str, *, comes_with: str) -> Path:
    """Return the path of a file that a package brings, or end the test by `missing`."""
    found = Path(path)
    if not found.exists():
        missing(f"{path} is not there; it comes with {comes_with}")
    return found


def require(what: str, works: Callable[[], bool]) -> None:
    """End the test by `missing` unless `works()` says that `what` can be used here."""
    if not works():
        missing(f"{what} can't be used here")
