"""What DEVELOPERS.md says of folders, parts and commands is so; every link of every page leads somewhere."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
FENCED = re.compile(r"^```.*?^```", re.DOTALL | re.MULTILINE)
BUILT = {".venv", "build", "dist", "node_modules"}


def pages() -> list[Path]:
    return [
        p for p in ROOT.rglob("*.md") if not BUILT & set(p.relative_to(ROOT).parts) and ".pytest_cache" not in p.parts
    ]


def makers() -> set[str]:
    """The scripts below tests/ that are run by hand."""
    scripts = (ROOT / "tests").rglob("*.py")
    return {
        str(s.relative_to(ROOT)) for s in scripts if '\nif __name__ == "__main__":' in s.read_text(encoding="utf-8")
    }


def test_every_script_that_makes_something_is_in_the_table_by_itself_or_with_its_folder():
    named = set(re.findall(r"`python (tests/[a-z_/]+(?:NAME)?\.py)[^`]*`", PAGE))
    folders = {name.removesuffix("NAME.py") for name in named if name.endswith("/NAME.py")}
    alone = {name for name in named if not name.endswith("/NAME.py")}
    assert alone <= makers()
    assert {s for s in makers() - alone if f"{s.rpartition('/')[0]}/" not in folders} == set()


@pytest.mark.parametrize("script", sorted(makers()))
def test_a_script_says_itself_how_it_is_run(script):
    """In its docstring, with its path, and it compiles."""
    text = (ROOT / script).read_text(encoding="utf-8")
    assert f"python {script}" in text
    compile(text, script, "exec")


def test_folders_and_files_named_are_there():
    for part in re.findall(r"^\| `([a-z_]+)/`", PAGE, re.MULTILINE):
        assert (ROOT / "tests" / part).is_dir(), part
    rows = re.findall(r"^\| ((?:`[a-z_]+`(?:, )?)+) \|", PAGE, re.MULTILINE)
    parts = {name for row in rows for name in re.findall(r"`([a-z_]+)`", row)}
    there = {p.stem for p in (ROOT / "logger" / "whorlpulse").iterdir() if p.suffix == ".py" or p.is_dir()}
    there = {name for name in there if not name.startswith("__")}
    assert there <= parts, there - parts


def test_every_link_leads_to_a_file():
    """Links within the project; those to headings and to other places are not followed."""
    assert len(pages()) > 30
    lost = [f"{page.relative_to(ROOT)}: {target}" for page in pages() for target in _links(page) if _gone(page, target)]
    assert lost == []


def _links(page: Path) -> list[str]:
    return LINK.findall(FENCED.sub("", page.read_text(encoding="utf-8")))


def _gone(page: Path, target: str) -> bool:
    return not re.match(r"[a-z]+:|#", target) and not (page.parent / target.partition("#")[0]).exists()


def test_the_short_way_round_is_the_gates_own_tools():
    """The tools named for daily work are installed with the test extra."""
    for tool in ("ruff", "mypy", "lint-imports"):
        assert f".venv/bin/{tool}" in PAGE
        beside = Path(sys.executable).parent / tool
        subprocess.run([str(beside), "--help"], capture_output=True, check=True, timeout=60)
