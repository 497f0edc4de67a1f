"""A short day of the soak: `day.py` has the long one."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from day import RATIO, Day, spend

from whorlpulse.views.figures import pair

HOURS, RATE = 0.05, 60.0
pytestmark = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs pseudo-terminals and /proc")


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> Day:
    return spend(HOURS, RATE, 0.0, tmp_path_factory.mktemp("day"))


def test_every_byte_is_in_the_log(day: Day) -> None:
    assert day.kept == day.sent
    assert day.check["lines"]["malformed"] == day.check["lines"]["lost"] == 0


def test_the_page_has_counted_every_pulse(day: Day) -> None:
    assert sum(day.live["pulses"].values()) == day.check["lines"]["pulses"]
    assert day.documents > 0


def test_the_ratio_is_the_wheels(day: Day) -> None:
    """The project's bar for clean logs: 0.02 %."""
    assert abs(day.ratio["ratio"]["value"] / RATIO - 1) <= 2e-4


def test_the_last_totals_are_the_commands(day: Day) -> None:
    ratio = day.ratio["ratio"]
    value, half = pair(ratio["value"], (ratio["high"] - ratio["low"]) / 2)
    assert f"ratio {value} ± {half} : 1" in day.told


def test_descriptors_and_threads_are_bounded(day: Day) -> None:
    """A viewer, the port, the log, a pipe or two for whoever measures the whole: none is added as time goes on."""
    half = len(day.looks.threads) // 2
    assert max(day.looks.descriptors[half:]) <= max(day.looks.descriptors[:half]) + 4
    assert max(day.looks.threads[half:]) <= max(day.looks.threads[:half]) + 4
