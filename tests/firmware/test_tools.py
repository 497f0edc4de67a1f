"""A missing tool skips with its reason, or fails where skips are not wanted."""

from __future__ import annotations

import pytest

import tools


def test_a_program_beside_the_interpreter_or_on_the_path_is_found() -> None:
    assert tools.require_tool("sh").endswith("/sh")


@pytest.mark.parametrize("setting", ["", "0"])
def test_a_missing_tool_skips_and_says_which(monkeypatch: pytest.MonkeyPatch, setting: str) -> None:
    monkeypatch.setenv("WHORLPULSE_NO_SKIP", setting)
    with pytest.raises(pytest.skip.Exception, match="no-such-program-here is not installed"):
        tools.require_tool("no-such-program-here")


def test_a_missing_tool_fails_where_nothing_may_be_skipped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WHORLPULSE_NO_SKIP", "1")
    with pytest.raises(pytest.fail.Exception, match="no-such-program-here is not installed"):
        tools.require_tool("no-such-program-here")
    with pytest.raises(pytest.fail.Exception, match="comes with the package that has it"):
        tools.require_file("/no/such/file", comes_with="the package that has it")
    with pytest.raises(pytest.fail.Exception, match="a thing that fails can't be used here"):
        tools.require("a thing that fails", lambda: False)


def test_what_works_is_not_skipped(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WHORLPULSE_NO_SKIP", "1")
    tools.require("a thing that works", lambda: True)
    assert tools.require_file(__file__, comes_with="this project").exists()
