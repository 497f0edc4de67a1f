"""A machine builder's printed speeds as pulse logs: the command finds the printed twist in them.

Howard & Bullough American Machine Co., Illustrated Catalogue of Cotton Machinery, Project Gutenberg #38301, pages 115,
156 and 198; every row was read from the page image. A spindle (or flyer) at its printed speed is the flyer, the front
roll at its printed speed and diameter is the take-up roller. Such machines have no drive wheel, and none is needed.
"""

import csv
import json
import math
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from shaft_logs import circumference, spun

DATA = Path(__file__).parents[1] / "data"
#: File -> (rows, column of the twist that is printed or that the printed multiplier asks for, relative tolerance).
#: The tolerances are those of the print itself: its roll speeds are whole turns a minute (tenths on p. 156).
TABLES = {
    "howard_bullough_p156_ring_warp.csv": (32, "tpi_printed", 2e-3),
    "howard_bullough_p115_flyer_frames.csv": (61, "tpi_printed", 5e-3),
    "howard_bullough_p198_two_ply.csv": (84, "tpi_from_multiplier", 1.2e-2),
}


def rows(name: str) -> Iterator[dict[str, float]]:
    with (DATA / name).open(newline="") as file:
        for row in csv.DictReader(file):
            yield {key: float(value) for key, value in row.items()}


def log_of_row(row: dict[str, float]) -> bytes:
    return spun(row["spindle_rpm"], row["front_roll_rpm"], circumference(row["roll_dia_in"]))


@pytest.mark.parametrize("name", TABLES)
def test_every_row(name, answer):
    count, column, tolerance = TABLES[name]
    table = list(rows(name))
    assert len(table) == count
    for row in table:
        said = answer("twist", log_of_row(row))
        twist = said["twist_tpi"]
        # one minute at constant speed: what the speeds make, to a twentieth of a per cent
        exact = row["spindle_rpm"] / (math.pi * row["roll_dia_in"] * row["front_roll_rpm"])
        assert twist["value"] == pytest.approx(exact, rel=5e-4), row
        assert twist["low"] <= exact <= twist["high"], row
        assert twist["value"] == pytest.approx(row[column], rel=tolerance), row
        assert said["twist_tpm"]["value"] == pytest.approx(twist["value"] / 0.0254, rel=1e-12)  # an inch is 25.4 mm
        assert said["length_source"] == "roller"


def test_one_row_through_a_process_of_its_own(tmp_path):
    # p. 156, No. 20: 8950 / (pi 134.0) for a printed 21.24
    row = next(row for row in rows("howard_bullough_p156_ring_warp.csv") if row["No"] == 20)
    path = tmp_path / "no-20.pulses"
    path.write_bytes(log_of_row(row))
    line = [sys.executable, "-m", "whorlpulse", "twist", str(path), "--json"]
    ran = subprocess.run(line, capture_output=True, text=True, timeout=60, check=False)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert json.loads(ran.stdout)["twist_tpi"]["value"] == pytest.approx(21.24, rel=2e-3)
