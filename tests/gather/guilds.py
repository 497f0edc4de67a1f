"""Where the samples are, the rows of a table read without the program's own reader, and a simulation's truth."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

SAMPLES = Path(__file__).resolve().parents[2] / "sample-captures"


def rows_of(path: Path) -> dict[str, dict[str, Any]]:
    """The rows of a .jsonl by log, read without the program's own reader."""
    rows = [json.loads(line) for line in path.read_text().splitlines()]
    return {row["log"]: row for row in rows}


def truth_beside(log: Path) -> dict[str, Any]:
    """What really happened in a simulated capture."""
    truth: dict[str, Any] = json.loads(log.with_name("truth.json").read_text())
    assert truth["simulated"] is True
    return truth
