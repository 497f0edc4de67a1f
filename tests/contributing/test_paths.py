"""DEVELOPERS.md follows a pulse and a finding through the program: here they are followed, by watching every call."""

from __future__ import annotations

import pkgutil
import re
import sys
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import pytest

from whorlpulse.cli.exits import run
from whorlpulse.simulate import scenario, simulate

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PACKAGE = "whorlpulse."
STEP = re.compile(r"^\| `([a-z_]+(?:\.[A-Za-z_]+)+)` \|", re.MULTILINE)


def path(start: str, end: str) -> list[str]:
    """The functions that the page names between two of its phrases, in order."""
    return STEP.findall(PAGE.partition(start)[2].partition(end)[0])


PATHS = {
    "recorded": path("**Recorded**", "**Read and shown**"),
    "read": path("**Read and shown**", "## One finding"),
    "finding": path("## One finding", "## Add a command"),
}


def called(work: Callable[[], int], steps: list[str]) -> list[str]:
    """The calls of these functions while the work is done, in order; it must end well."""
    seen: list[str] = []

    def watch(frame: FrameType, event: str, _: object) -> None:
        module = frame.f_globals.get("__name__", "")
        if event == "call" and module.startswith(PACKAGE):
            name = f"{module.removeprefix(PACKAGE)}.{frame.f_code.co_qualname}"
            if name in steps:
                seen.append(name)

    before = sys.getprofile()
    sys.setprofile(watch)
    try:
        assert work() == 0
    finally:
        sys.setprofile(before)
    return seen


def out_of_order(steps: list[str], seen: list[str]) -> list[str]:
    """Steps that were not called after the step before."""
    missing, rest = [], iter(seen)
    for step in steps:
        if step not in rest:
            missing.append(step)
            rest = iter(seen)
    return missing


@pytest.fixture
def log(tmp_path):
    made = simulate(scenario("slipping-band"), 1)
    (tmp_path / "log.pulses").write_bytes(made.log)
    (tmp_path / "wheel.toml").write_text(made.wheel_toml)
    return tmp_path


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("recorded", ["record", "new.pulses", "--from", "sim:steady@200", "--for", "60 s"]),
        ("read", ["report", "log.pulses", "--wheel", "wheel.toml", "--no-script", "-o", "page.html"]),
        ("finding", ["slip", "log.pulses", "--wheel", "wheel.toml"]),
    ],
)
def test_every_function_of_a_path_is_called_in_the_pages_order(name, words, log, monkeypatch, capsys):
    monkeypatch.chdir(log)
    steps = PATHS[name]
    assert len(steps) >= 4
    assert out_of_order(steps, called(lambda: run(words), steps)) == []
    if name == "finding":
        assert "The band slips in bursts" in capsys.readouterr().out


def test_a_step_that_is_missing_or_misplaced_is_noticed():
    assert out_of_order(["a.b", "a.c", "a.d"], ["a.b", "a.c", "a.d"]) == []
    assert out_of_order(["a.b", "a.c"], ["a.c", "a.b", "a.c"]) == []
    assert out_of_order(["a.b", "a.d", "a.c"], ["a.b", "a.c", "a.d"]) == ["a.c"]
    assert out_of_order(["a.b", "x.y"], ["a.b", "a.c"]) == ["x.y"]


def test_whatever_else_the_page_names_of_the_package_is_there():
    """Dotted names beside the steps, and files by their path."""
    parts = {p.stem for p in (ROOT / "logger" / "whorlpulse").iterdir()}
    for name in re.findall(r"`((?:[a-z_]+\.)+[A-Za-z_]+)`", PAGE):
        first, *_ = name.split(".")
        if first not in parts or name.endswith((".py", ".pyi", ".toml", ".md")):
            continue
        pkgutil.resolve_name(PACKAGE + name)
    for name in re.findall(r"`((?:[a-z_]+/)+[a-z_]+\.py)`", PAGE):
        assert (ROOT / name).exists() or (ROOT / "logger" / "whorlpulse" / name).exists(), name
