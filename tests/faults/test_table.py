"""The page about reliability and the tests behind it say the same."""

from __future__ import annotations

import ast
from pathlib import Path

from table import ROWS, TESTS

HERE = Path(__file__).resolve().parent
PAGE = TESTS.parent / "docs" / "reliability.md"


def functions_of(file: Path) -> set[str]:
    return {n.name for n in ast.parse(file.read_text()).body if isinstance(n, ast.FunctionDef)}


def test_each_row_stands_in_the_page() -> None:
    page = PAGE.read_text().splitlines()
    missing = [row.markdown for row in ROWS if row.markdown not in page]
    assert not missing, "put into docs/reliability.md:\n" + "\n".join(missing)


def test_each_row_has_its_test_and_each_test_its_row() -> None:
    named = {row.test for row in ROWS}
    there = {
        f"faults/{file.name}::{name}"
        for file in HERE.glob("test_*.py")
        if file.name != Path(__file__).name
        for name in functions_of(file)
        if name.startswith("test_")
    }
    assert named == there
