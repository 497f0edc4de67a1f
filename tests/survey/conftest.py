"""Simulated bench logs, made once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from whorlpulse.cli.capture_folder import write_capture
from whorlpulse.simulate import scenario, simulate


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
