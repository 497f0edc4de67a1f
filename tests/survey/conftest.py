"""Simulated bench logs, made once, and a way to run the command in this process."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from whorlpulse.cli.capture_folder import write_capture
from whorlpulse.cli.exits import run
from whorlpulse.simulate import scenario, simulate


class Ran(NamedTuple):
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def whorlpulse(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    """Run `whorlpulse WORDS` here."""

    def typed(*words: object) -> Ran:
        capsys.readouterr()
        code = run([str(w) for w in words])
        out, err = capsys.readouterr()
        return Ran(code, out, err)

    return typed


@pytest.fixture(scope="session")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One log with a run on each of three whorls, its wheel file (diameters only) and the simulated truth."""
    place = tmp_path_factory.mktemp("bench")
    write_capture(str(place), simulate(scenario("three-whorls"), 7), replace=True)
    return place


@pytest.fixture(scope="session")
def slack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One run on the middle whorl with bursts put in, and its truth."""
    from whorlpulse.simulate.band import SlipBurst

    base = scenario("steady")
    bursts = tuple(SlipBurst(at_s, 0.6) for at_s in (22.0, 34.0, 47.0, 58.0, 71.0))
    place = tmp_path_factory.mktemp("slack")
    write_capture(str(place), simulate(replace(base, band=replace(base.band, bursts=bursts)), 3), replace=True)
    return place
