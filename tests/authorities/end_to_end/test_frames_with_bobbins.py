"""Flyer frames as logs of flyer and bobbin, without a roller: the command finds the printed lengths and twists.

A2: a published roving frame assignment. RIE: the Rieter Manual of Spinning, vol. 1, online ("Variation in the speed of
the traveler", "Variation in yarn twist"). DEF: definetextile.com, winding principle of a simplex frame. DRA: Draper,
Facts and Figures for Textile Manufacturers (1896). HB: Howard & Bullough, Illustrated Catalogue of Cotton Machinery,
Project Gutenberg #38301, page 115. All figures were read. No published flyer-led frame with both speeds was found:
those rows are our own construction from the bobbin-led ones. Of a minute the log knows what lies between its first and
last passages: two turns of the slowest shaft in some hundreds less, so counts and lengths are held to half a per cent,
and twist, in which that cancels, more closely.
"""

import csv
import math
from pathlib import Path

import pytest
from shaft_logs import INCH_CM, bobbin_file, log_of, passages_at, wound

DATA = Path(__file__).parents[1] / "data"
ENDS = 5e-3


@pytest.fixture
def twist_of(answer, tmp_path):
    """Run `twist` on a log with a wheel file of that content."""

    def told(log, wheel, *options):
        path = tmp_path / "wheel.toml"
        path.write_text(wheel)
        return answer("twist", log, "--wheel", path, *options)

    return told


def test_a_bobbin_led_roving_frame(twist_of):
    # A2: flyer 907.5 rpm, bobbin 1005.4 on an empty 60 mm: 97.9 coils and 18.44 m a minute, 1.25 tpi (with 22/7 for pi)
    said = twist_of(wound(907.5, 1005.4), bobbin_file("irish", 60.0))
    assert said["length_source"] == "bobbin"
    assert said["wound_turns"]["value"] == pytest.approx(97.9, rel=ENDS)
    assert said["length_m"] == pytest.approx(18.44, rel=ENDS)
    assert said["twist_tpi"]["value"] == pytest.approx(1.25, rel=2e-3)


def test_coils_a_minute(twist_of):
    # DEF: bobbin 822, flyer 749: 73 coils a minute
    said = twist_of(wound(749.0, 822.0), bobbin_file("irish", 50.0))
    assert said["wound_turns"]["value"] == pytest.approx(73.0, rel=ENDS)


@pytest.mark.parametrize(("diameter", "traveller"), [(46.0, 13396.0), (25.0, 13309.0)])
def test_a_leading_spindle_and_its_lagging_traveller(twist_of, diameter, traveller):
    # RIE: 13 500 rpm, 15 m a minute; the spindle holds the package, so it is the leading bobbin. The printed speeds are
    # whole turns a minute: half a turn of 104 or 191 wound on
    said = twist_of(wound(traveller, 13500.0, 20.0), bobbin_file("irish", diameter))
    coils = 13500.0 - traveller
    assert said["length_m"] == pytest.approx(5.0, rel=0.5 / coils + ENDS)
    # 900 turns a metre: the traveller's turns over the length
    assert said["twist_tpm"]["value"] == pytest.approx(traveller / 15.0, rel=0.5 / coils + 1e-3)


def test_what_drawing_off_over_the_end_changes(twist_of):
    # RIE: 12.73 turns a metre from 25 mm; DRA: 0.67 turns an inch from a bobbin 1.5 inches round, 0.33 from 3 inches
    for diameter, per_m in ((25.0, 12.73), (15.0 * INCH_CM / math.pi, 0.67 / 0.0254), (30 * INCH_CM / math.pi, 13.0)):
        said = twist_of(wound(800.0, 900.0, 20.0), bobbin_file("irish", diameter))
        (told,) = [n for n in said["notes"] if "over the bobbin's end" in n]
        least = float(told.split("a wrap, ")[1].split(" to ")[0])
        assert least == pytest.approx(per_m, rel=0.01)


def test_the_same_frame_with_the_flyer_leading(twist_of):
    # built from A2's numbers, NOT published: the bobbin makes 809.67
    said = twist_of(wound(907.5, 809.67), bobbin_file("scotch", 60.0))
    assert said["length_m"] == pytest.approx(18.44, rel=ENDS)
    assert said["twist_tpi"]["value"] == pytest.approx(1.25, rel=2e-3)


def test_the_frames_flyer_is_not_needed_where_the_length_is_known(twist_of):
    # A2 again, with the delivery roller (25.4 mm at 231 rpm) and the bobbin only: its flyer must make 907.5
    shafts = {letter: passages_at(rpm, 60.0, letter) for letter, rpm in (("b", 1005.4), ("y", 231.0))}
    roller = f"{math.pi * 2.54:.6f} cm"
    said = twist_of(log_of(shafts, {"targets": "b=1 y=1", "roller": roller}), bobbin_file("irish", 60.0))
    assert said["flyer_unseen"] is True
    assert said["flyer_turns"] == pytest.approx(907.5, rel=ENDS)
    assert said["twist_tpi"]["value"] == pytest.approx(1.25, rel=3e-3)


def test_the_wheel_file_may_be_wrong_about_who_leads(twist_of):
    said = twist_of(wound(907.5, 1005.4), bobbin_file("scotch", 60.0))
    assert said["length_m"] == pytest.approx(18.44, rel=ENDS)
    assert any("bobbin-led here" in n for n in said["notes"])


@pytest.mark.parametrize(("tension", "sign"), [("irish", 1), ("scotch", -1)])
def test_every_row_of_the_flyer_frame_table(twist_of, tension, sign):
    # HB p. 115: flyer and front roll speeds and the twist that they make; the bobbin, of 1-1/4 in (ours), takes up what
    # the roll delivers. 5e-3: the printed roll speeds are whole turns a minute
    with (DATA / "howard_bullough_p115_flyer_frames.csv").open(newline="") as file:
        rows = [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]
    assert len(rows) == 61
    diameter_in = 1.25
    for row in rows[::2] if sign < 0 else rows:
        delivered_in = math.pi * row["roll_dia_in"] * row["front_roll_rpm"]
        bobbin = row["spindle_rpm"] + sign * delivered_in / (math.pi * diameter_in)
        said = twist_of(wound(row["spindle_rpm"], bobbin), bobbin_file(tension, diameter_in * 25.4))
        assert said["twist_tpi"]["value"] == pytest.approx(row["spindle_rpm"] / delivered_in, rel=2e-3), row
        assert said["twist_tpi"]["value"] == pytest.approx(row["tpi_printed"], rel=5e-3), row
