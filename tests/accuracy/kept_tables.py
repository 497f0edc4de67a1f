"""The page of figures that scripts here measure: each script writes its own part, between two marks."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

PAGE = Path(__file__).resolve().parents[2] / "docs" / "accuracy-of-the-rest.md"


def part(name: str, page: str) -> str:
    """Return what stands between the marks of that name; ValueError where they are not."""
    begin, end = marks(name)
    if page.count(begin) != 1 or page.count(end) != 1:
        raise ValueError(f"{PAGE.name} needs the marks {begin} and {end}, once each")
    return page.split(begin)[1].split(end)[0]


def marks(name: str) -> tuple[str, str]:
    """The lines before and after a part."""
    return f"<!-- made by tests/accuracy/{name}.py -->", f"<!-- end of {name} -->"


def put(name: str, lines: Sequence[str], page: str) -> str:
    """Return the page with that part replaced by these lines."""
    old = part(name, page)
    begin, end = marks(name)
    return page.replace(begin + old + end, "\n".join((begin, "", *lines, "", end)))


def options(docstring: str, logs: int, first: int = 0) -> argparse.ArgumentParser:
    """The options that each script has: how many logs, the first seed, and whether to write."""
    parser = argparse.ArgumentParser(description=docstring.splitlines()[0])
    parser.add_argument("--logs", type=int, default=logs, help="simulated logs for each row")
    parser.add_argument("--first", type=int, default=first, help="the first seed")
    parser.add_argument("--write", action="store_true", help=f"put the table into docs/{PAGE.name}")
    return parser


def show(name: str, lines: Sequence[str], *, write: bool) -> None:
    """Print the lines, and put them into the page if asked to."""
    print(*lines, sep="\n")
    if write:
        PAGE.write_text(put(name, lines, PAGE.read_text(encoding="utf-8")), encoding="utf-8")
