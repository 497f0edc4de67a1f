"""A part of the grid of docs/slip-confusion.md in every test run: common faults are named, and 0.9 means about 0.9."""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import pytest

sys.path[:0] = [str(Path(__file__).resolve().parent)]

from slip_grid import HELD, PAGE, TOO_LITTLE, Judged, judged, page, reliability  # noqa: E402
from slip_wheels import FAULTS, wheel  # noqa: E402

#: Wheels that had no part in setting the confidences, four or five of each fault.
FIRST, WHEELS = 5000, 60


@cache
def some() -> tuple[Judged, ...]:
    return tuple(judged(range(FIRST, FIRST + WHEELS)))


def leading(fault: str) -> list[str]:
    return [j.leading for j in some() if j.fault == fault]


def test_all_faults_are_there_and_a_wheel_is_always_the_same():
    assert {j.fault for j in some()} - {HELD} == set(FAULTS)
    assert wheel(17) == wheel(17)
    assert wheel(17).case != wheel(17 + len(FAULTS)).case


@pytest.mark.parametrize(
    ("fault", "named"),
    [
        ("bursts put in", {"slip-bursts"}),
        ("bad joint", {"band-joint", "periodic-loss"}),
        ("reference off", {"reference-off"}),
        ("sensor cuts out", {"flyer-went-silent"}),
        ("too short", {TOO_LITTLE}),
    ],
)
def test_plain_faults_lead_in_most_wheels(fault, named):
    found = leading(fault)
    assert sum(f in named for f in found) > 0.5 * len(found)


def test_a_band_without_fault_is_seldom_blamed():
    said = [s for j in some() if j.fault == "none" for s in j.said if s.id != "band-healthy" and s.confidence > 0.6]
    assert said == []


def test_findings_said_at_nine_tenths_are_about_so_often_right():
    # Of some 25 findings 90 % right is 22.5 ± 1.5; fewer than 18 come once in 400.
    sure = [(n, right) for low, high, n, right in reliability(some()) if low >= 0.875]
    n, right = (sum(column) for column in zip(*sure, strict=True))
    assert n >= 20
    assert right >= 0.75 * n


def test_the_page_is_there_and_made_by_this_program():
    made = page(some(), some()).splitlines()
    written = PAGE.read_text(encoding="utf-8").splitlines()
    assert written[0] == made[0]
    assert [line for line in written if line.startswith("## ")] == [line for line in made if line.startswith("## ")]
    (row,) = [line for line in written if line.startswith("| 0.875 to 0.925 |")]
    shares = [int(cell.strip(" %")) for cell in row.split("|") if cell.strip().endswith("%")]
    # the bar: of findings said at 0.9, 85 to 95 % are right, in the grid and in wheels that had no part in it
    assert len(shares) == 2
    assert all(85 <= share <= 95 for share in shares)
