"""Planned twist against a machine builder's printed tables.

Howard & Bullough American Machine Co., Illustrated Catalogue of Cotton Machinery, Project Gutenberg #38301; every
row was read from the page image. F. L. Lincoln's rules are not asserted: his table is rounded practice.
"""

import csv
import math
from pathlib import Path

import pytest

from whorlpulse import units
from whorlpulse.estimators import plan, plying

DATA = Path(__file__).parent / "data"
INCH = 0.0254


def planned_tpi(multiplier: float, cotton_count: float) -> float:
    """The twist that the plan asks for, in the tables' unit."""
    return units.tpi_from_tpm(units.twist_factor(f"{multiplier} tm", units.count(f"{cotton_count} Ne")))


def rows(name: str) -> list[dict[str, float]]:
    with (DATA / name).open(newline="") as file:
        return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


#: p. 176: number, then tpi at 4.75, 4.50, 3.50, 3.25, 3.00, 2.75.
PAGE_176 = [
    (1, 4.75, 4.50, 3.50, 3.25, 3.00, 2.75),
    (4, 9.50, 9.00, 7.00, 6.50, 6.00, 5.50),
    (16, 19.00, 18.00, 14.00, 13.00, 12.00, 11.00),
    (20, 21.24, 20.12, 15.65, 14.53, 13.41, 12.30),
    (25, 23.75, 22.50, 17.50, 16.25, 15.00, 13.75),
    (30, 26.02, 24.65, 19.17, 17.80, 16.43, 15.06),
    (36, 28.50, 27.00, 21.00, 19.50, 18.00, 16.50),
    (40, 30.04, 28.46, 22.14, 20.55, 18.97, 17.39),
    (49, 33.25, 31.50, 24.50, 22.75, 21.00, 19.25),
]


@pytest.mark.parametrize("row", PAGE_176, ids=lambda row: f"No.{row[0]}")
def test_page_176_twist_by_number_and_multiplier(row):
    number, *printed = row
    for multiplier, tpi in zip((4.75, 4.50, 3.50, 3.25, 3.00, 2.75), printed, strict=True):
        # the print truncates now and then, so a little more than one unit of its last digit
        assert planned_tpi(multiplier, number) == pytest.approx(tpi, abs=0.011)


#: p. 216, two-ply: single number, resultant, then tpi at multipliers 4, 5, 6 of the resultant.
PAGE_216 = [
    (1, 0.5, 2.83, 3.54, 4.24),
    (10, 5, 8.94, 11.18, 13.42),
    (24, 12, 13.86, 17.32, 20.78),
    (30, 15, 15.49, 19.37, 23.24),
    (50, 25, 20, 25, 30),
    (72, 36, 24, 30, 36),
    (100, 50, None, 35.36, 42.43),
]


@pytest.mark.parametrize("row", PAGE_216, ids=lambda row: f"2/{row[0]}")
def test_page_216_two_ply(row):
    single, resultant, *printed = row
    tex = plying.resultant_count_tex([units.count(f"{single} Ne")] * 2)
    assert units.count_from_tex(tex, "Ne") == pytest.approx(resultant, rel=1e-12)
    for multiplier, tpi in zip((4, 5, 6), printed, strict=True):
        if tpi is not None:
            planned = units.tpi_from_tpm(units.twist_factor(f"{multiplier} tm", tex))
            assert planned == pytest.approx(tpi, abs=0.006)  # 19.365 is printed 19.37


def test_page_136_roving_twist():
    # roving twist is 1.20 sqrt(hank); four printed pairs, read
    for hank, tpi in ((0.25, 0.60), (0.50, 0.85), (1.00, 1.20), (1.20, 1.31)):
        assert planned_tpi(1.20, hank) == pytest.approx(tpi, abs=0.006)


def test_page_115_flyer_frames():
    table = rows("howard_bullough_p115_flyer_frames.csv")
    assert len(table) == 61
    for row in table:
        assert planned_tpi(1.20, row["hank"]) == pytest.approx(row["tpi_printed"], abs=0.011), row


def test_page_156_ring_warp():
    table = rows("howard_bullough_p156_ring_warp.csv")
    assert len(table) == 32
    for row in table:
        assert planned_tpi(4.75, row["No"]) == pytest.approx(row["tpi_printed"], abs=0.011), row


def test_page_198_two_ply_twisters_deliver_the_planned_twist():
    table = rows("howard_bullough_p198_two_ply.csv")
    assert len(table) == 84
    for row in table:
        tex = plying.resultant_count_tex([units.count(f"{row['No_single']} Ne")] * 2)
        assert units.count_from_tex(tex, "Ne") == pytest.approx(row["ply_count"], rel=1e-9)
        tpm = units.twist_factor(f"{row['multiplier']} tm", tex)
        # a cadence and a ratio that turn the spindle at its printed speed: the yarn out is the roll's surface
        (one,) = plan.per_whorl(plan.YarnPlan(tpm, tex), [(None, plan.RatioWithU(10.0, 0.0))], row["spindle_rpm"] / 10)
        roll_m_per_hour = 60 * row["front_roll_rpm"] * math.pi * row["roll_dia_in"] * INCH
        # the roll's speed is printed in whole turns of 43 to 116 a minute
        assert one.metres_per_hour == pytest.approx(roll_m_per_hour, rel=1.2e-2), row
