"""The index of decisions has every page, its links lead somewhere, and every page says what was decided."""

import re
from pathlib import Path

import pytest

FOLDER = Path(__file__).resolve().parents[2] / "docs" / "decisions"
INDEX = (FOLDER / "README.md").read_text(encoding="utf-8")
PAGES = sorted(p.name for p in FOLDER.glob("*.md") if p.name != "README.md")


def links(text: str) -> list[str]:
    """Where a page's links lead, within the project."""
    return [to for to in re.findall(r"\]\(([^)#]+)[^)]*\)", text) if "://" not in to]


def test_the_index_lists_every_page_once():
    assert sorted(links(INDEX)) == PAGES


def test_ten_decisions_shaped_the_whole_each_with_what_why_and_cost():
    rows = [row.strip("| \n").split(" | ") for row in re.findall(r"^\| \[.*$", INDEX, re.MULTILINE)]
    assert len(rows) == 10
    for row in rows:
        assert len(row) == 4, row
        assert all(len(cell) > 10 for cell in row), row


@pytest.mark.parametrize("name", PAGES)
def test_a_page_has_a_title_says_what_was_decided_and_links_to_what_is_there(name):
    text = (FOLDER / name).read_text(encoding="utf-8")
    assert text.startswith("# ")
    assert re.search(r"^(## |\*\*)Decided|What was tried|^## What helped", text, re.MULTILINE)
    assert [to for to in links(text) if not (FOLDER / to).exists()] == []
