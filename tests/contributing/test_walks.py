"""The walks for contributors are true: done in a copy of the tree they pass the gate and their own tests.

Each walk alone, its own test in the changed copy; all five together, the gate: style, types, import contract.
"""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from walk import StaleError, Step, steps_of

ROOT = Path(__file__).resolve().parents[2]
WALKS = sorted((ROOT / "docs" / "walks").glob("add-*.md"))
BIN = Path(sys.executable).parent
#: What a walk may touch or needs: the package, and the tests that it adds to.
COPIED = ("logger/whorlpulse", "docs/findings.md", "pyproject.toml", "tests")


@pytest.fixture
def copy(tmp_path):
    """A copy of the tree, without what was built."""
    unwanted = shutil.ignore_patterns("__pycache__", "data", "corpus", "*.elf", ".hypothesis")
    for name in COPIED:
        source, to = ROOT / name, tmp_path / name
        to.parent.mkdir(parents=True, exist_ok=True)
        if source.is_dir():
            shutil.copytree(source, to, ignore=unwanted)
        else:
            shutil.copy2(source, to)
    return tmp_path


def ran(folder: Path, *words: str) -> str:
    """Run a tool of this environment on the copy and return what it printed; it must end well."""
    beside = BIN / words[0]
    line = [str(beside) if beside.exists() else words[0], *words[1:]]
    env = {**os.environ, "PYTHONPATH": f"{folder / 'logger'}{os.pathsep}{folder}", "NO_COLOR": "1"}
    done = subprocess.run(line, cwd=folder, capture_output=True, text=True, timeout=600, check=False, env=env)
    assert done.returncode == 0, (done.stdout + done.stderr)[-4000:]
    return done.stdout


def walk(page: Path, root: Path) -> tuple[Step, ...]:
    steps = steps_of(page.read_text(encoding="utf-8"))
    for step in steps:
        step.apply(root)
    return steps


def test_there_is_a_walk_for_each_part_and_the_developers_page_leads_to_it():
    assert [page.stem for page in WALKS] == [
        f"add-{part}" for part in ("a-finding", "a-source", "a-view", "an-estimator", "an-importer")
    ]
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for found in WALKS:
        assert f"(docs/walks/{found.name})" in page


@pytest.mark.parametrize("page", WALKS, ids=lambda page: page.stem)
def test_a_walk_ends_with_tests_that_pass(page, copy):
    steps = walk(page, copy)
    tests = [step.path for step in steps if step.path.startswith("tests/")]
    package = [step for step in steps if step.path.startswith("logger/")]
    assert len(tests) == 1
    assert package
    where = ran(copy, sys.executable, "-c", "import whorlpulse; print(whorlpulse.__file__)")
    assert Path(where.strip()).is_relative_to(copy)  # not the tree's own package
    said = ran(copy, sys.executable, "-m", "pytest", "-p", "no:cacheprovider", tests[0])
    assert re.search(r"^\d+ passed|^\.+ +\[100%\]", said, re.MULTILINE)


def test_all_walks_together_pass_the_gate(copy):
    changed = sorted({step.path for page in WALKS for step in walk(page, copy) if step.path.endswith(".py")})
    assert len(changed) >= 10
    ran(copy, "ruff", "check", *changed)
    ran(copy, "ruff", "format", "--check", *changed)
    ran(copy, "lint-imports", "--no-cache")
    if (ROOT / ".mypy_cache").exists():
        shutil.copytree(ROOT / ".mypy_cache", copy / ".mypy_cache")
    ran(copy, "mypy")
    for name in ("record", "convert", "ratio", "check"):  # a new option still fits the screen
        said = ran(copy, sys.executable, "-m", "whorlpulse", name, "--help")
        assert len(said.splitlines()) <= 24
    ran(copy, sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "tests/cli/test_check.py", "-k", "section")


def test_a_page_that_no_longer_fits_is_noticed(tmp_path):
    (tmp_path / "a.py").write_text("x = 1\ny = 1\n")
    Step("a.py", "diff", " x = 1\n-y = 1\n+y = 2\n").apply(tmp_path)
    assert (tmp_path / "a.py").read_text() == "x = 1\ny = 2\n"
    with pytest.raises(StaleError, match="has 0 places"):
        Step("a.py", "diff", "-y = 1\n+y = 3\n").apply(tmp_path)
    with pytest.raises(StaleError, match="there already"):
        Step("a.py", "python", "z = 1\n").apply(tmp_path)
