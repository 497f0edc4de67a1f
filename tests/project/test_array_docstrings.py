"""House style 6: every array's shape is in its docstring, where estimators and what they stand on take arrays."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "logger" / "whorlpulse"
FILES = [*sorted((PACKAGE / "estimators").glob("*.py")), PACKAGE / "phase.py", PACKAGE / "length.py"]
ARRAYS = re.compile(r"\b(Float|Int|Bool|Byte)Array\b")


def public(tree: ast.Module) -> Iterator[ast.FunctionDef]:
    """Public functions, and public methods of public classes."""
    for node in tree.body:
        inner = node.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_") else [node]
        yield from (f for f in inner if isinstance(f, ast.FunctionDef) and not f.name.startswith("_"))


def unshaped(text: str) -> list[str]:
    """Array parameters whose docstring has no shape behind their name, as `t_s (n,)`; together with those of a list."""
    found = []
    for function in public(ast.parse(text)):
        says = ast.get_docstring(function) or ""
        for a in [*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs]:
            if a.annotation is None or not ARRAYS.search(ast.unparse(a.annotation)):
                continue
            if not re.search(rf"\b{a.arg}\b[^.;:]*?\([^()]*\b[\w+ ]+,[^()]*\)", says):
                found.append(f"{function.name}({a.arg})")
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_arrays_have_their_shape_in_the_docstring(path):
    assert unshaped(path.read_text(encoding="utf-8")) == []


def test_one_that_has_none_is_found():
    text = 'def f(t_s: FloatArray, n: int, y: FloatArray | None):\n    """Of t_s (n,): something.\n\n    y: more."""\n'
    assert unshaped(text) == ["f(y)"]
    assert unshaped(text.replace("y: more", "y (n, 2): more")) == []
