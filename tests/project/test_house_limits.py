"""The house's limits: no file over 300 lines without a reason in its head, no function over 50."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "logger" / "whorlpulse"
FILES = sorted(PACKAGE.rglob("*.py"))
MOST_LINES, MOST_OF_A_FUNCTION = 300, 50


def functions(text: str) -> list[tuple[str, int]]:
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    return [(n.name, (n.end_lineno or 0) - n.lineno + 1) for n in ast.walk(ast.parse(text)) if isinstance(n, kinds)]


def test_the_limits_can_be_missed():
    text = "def long():\n" + "    x = 1\n" * 60
    assert functions(text) == [("long", 61)]


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_files_and_functions_are_short(path):
    text = path.read_text()
    head = ast.get_docstring(ast.parse(text)) or ""
    lines = text.count("\n")
    assert lines <= MOST_LINES or "one file because" in head.lower(), f"{lines} lines, and its head gives no reason"
    assert [f for f in functions(text) if f[1] > MOST_OF_A_FUNCTION] == []
    if text.strip():
        assert head or path.name == "__init__.py"
