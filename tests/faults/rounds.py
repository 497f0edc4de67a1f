"""A plugin for pytest (`-p rounds`): every test as many times as WHORLPULSE_ROUNDS says, each with its own dice."""

from __future__ import annotations

import os

import pytest


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Give every test a round that it does not see."""
    times = int(os.environ.get("WHORLPULSE_ROUNDS", "1"))
    metafunc.fixturenames.append("round_of_faults")
    metafunc.parametrize("round_of_faults", range(times))
