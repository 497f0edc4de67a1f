"""`calibrate`: the true length per turn within its ±, pulls parted as made, what to write, what is refused."""

import numpy as np
import pytest
from tests.calibrate.pulls import Roller, pulled_log

from whorlpulse import units
from whorlpulse.simulate import scenario, simulate

TRUE_M = 0.10031
KEYS = {"schema", "capture", "notes", "roller_m", "roller_line", "pulls", "pulls_to_halve", "stated_m"}


@pytest.fixture
def pulled(tmp_path):
    def written(lengths_m, seed=0, targets=4, **how):
        path = tmp_path / "pulls.pulses"
        path.write_bytes(pulled_log(Roller(TRUE_M, targets), lengths_m, np.random.default_rng(seed), **how))
        return path

    return written


def calibrated(whorlpulse, path, *options):
    ran = whorlpulse("calibrate", path, *options, "--json")
    assert (ran.code, ran.err) == (0, "")
    return ran.json


def holds(said):
    return said["roller_m"]["low"] <= TRUE_M <= said["roller_m"]["high"]


@pytest.mark.parametrize("targets", [1, 4, 12])
@pytest.mark.parametrize("pulls", [1, 3, 5])
def test_pulls_parted_by_stops(whorlpulse, pulled, targets, pulls):
    said = calibrated(whorlpulse, pulled([10.0] * pulls, targets=targets), "--length", "10.000 m")
    assert set(said) >= KEYS
    assert len(said["pulls"]) == pulls
    assert said["parted_by"] == "stops"
    assert holds(said)
    # the ± is about what one gap of the roller is worth over a pull, or less
    assert said["roller_m"]["high"] / said["roller_m"]["low"] - 1 < 5 * (TRUE_M / targets / 10.0)


def test_mark_lines_part_pulls_and_leave_yarn_put_in_place_out(whorlpulse, pulled):
    path = pulled([10.0] * 4, lines="marks", stray_m=0.4, stop_s=3.0)
    said = calibrated(whorlpulse, path, "--length", "10.000 m")
    assert (len(said["pulls"]), said["parted_by"]) == (4, "lines")
    assert holds(said)
    assert any("belong to no pull" in n for n in said["notes"])


def test_length_lines_say_how_long_each_pull_was(whorlpulse, pulled):
    said = calibrated(whorlpulse, pulled([10.0] * 3, lines="lengths", written="10.000 m"))
    assert [p["length_m"] for p in said["pulls"]] == [10.0] * 3
    assert holds(said)
    given = calibrated(whorlpulse, pulled([10.0] * 3, lines="lengths", written="11.0 m"), "--length", "10.000 m")
    assert holds(given)
    assert any("not the log's length lines" in n for n in given["notes"])


def test_a_length_for_each_pull(whorlpulse, pulled):
    path = pulled([10.0, 6.0, 8.0])
    said = calibrated(whorlpulse, path, *("--length", "10.000 m", "--length", "600.0 cm", "--length", "8.000 m"))
    assert [p["length_m"] for p in said["pulls"]] == [10.0, 6.0, 8.0]
    assert holds(said)


def test_short_stops_are_parted_when_their_number_is_said(whorlpulse, pulled):
    path = pulled([10.0] * 3, stop_s=1.2)
    assert len(calibrated(whorlpulse, path, "--length", "10.000 m", "--pulls", "3")["pulls"]) == 3


def test_a_pull_in_which_lines_were_lost_is_left_out(whorlpulse, pulled):
    path = pulled([10.0] * 4)
    lines = path.read_bytes().splitlines(keepends=True)
    at = [i for i, line in enumerate(lines) if line.startswith(b"y,")][600]  # in the second pull
    path.write_bytes(b"".join(lines[:at] + lines[at + 9 :]))
    said = calibrated(whorlpulse, path, "--length", "10.000 m")
    assert len(said["pulls"]) == 3
    assert holds(said)
    assert any("lines were lost in them: 1" in n for n in said["notes"])


def test_the_line_to_write_is_read_back_and_mends_a_skeins_twist(whorlpulse, pulled, tmp_path):
    """A skein whose roller takes in 3 % more than it says: after calibration its twist is right."""
    said = calibrated(whorlpulse, pulled([10.0] * 5, stated="9.74 cm"), "--length", "10.000 m")
    m, m_u = units.length(said["roller_line"])
    assert m == pytest.approx(said["roller_m"]["value"], abs=said["roller_u_m"] / 10)
    assert m_u == pytest.approx(said["roller_u_m"], rel=0.05)
    assert said["stated_m"] == pytest.approx(0.0974)
    assert any("too short by as much, and twists too high" in n for n in said["notes"])
    capture = simulate(scenario("skein-on-plan"), 2)
    # the same skein, its roller stated by the same 9.74/10.031 too small
    wrong = capture.log.replace(b"# roller: 10.00 cm", f"# roller: {10.0 * 9.74 / 10.031:.3f} cm".encode())
    right = capture.log.replace(b"# roller: 10.00 cm", f"# roller: {10.0 * m / 0.10031:.5f} cm".encode())
    twists = []
    for log in (wrong, right):
        path = tmp_path / "skein.pulses"
        path.write_bytes(log)
        twists.append(whorlpulse("twist", path, "--json").json["twist_tpm"]["value"] / capture.truth.twist_tpm - 1)
    assert twists[0] == pytest.approx(0.03, abs=0.005)
    assert abs(twists[1]) < 0.005  # the design's bar for a skein's mean twist


def test_text_says_the_answer_first_and_what_to_write(whorlpulse, pulled):
    text = whorlpulse("calibrate", pulled([10.0] * 5, stated="10.03 cm"), "--length", "10.000 m").out
    assert text.splitlines()[0].strip().startswith("10.0")
    assert "cm   of yarn for one turn of the roller, 95 % sure" in text.splitlines()[0]
    assert "    # roller: 10.0" in text
    flat = " ".join(text.split())
    assert "would halve the ±" in flat
    assert "The log says 10.03 cm, which agrees." in flat
    assert max(map(len, text.splitlines())) <= 80


def test_one_pull_says_that_it_cant_know_how_it_repeats(whorlpulse, pulled):
    said = calibrated(whorlpulse, pulled([10.0]), "--length", "10.000 m")
    assert said["pulls_to_halve"] is None
    assert any("Pull three times or more" in n for n in said["notes"])


@pytest.mark.parametrize(
    ("lengths", "options", "code", "words"),
    [
        ([10.0, 5.0], ["--length", "10.00 m"], 1, "differ too much"),
        ([10.0] * 3, [], 1, "how long the pulls were"),
        ([10.0] * 3, ["--length", "10 m", "--length", "10 m", "--pulls", "3"], 1, "3 pulls are in the log"),
        ([10.0] * 3, ["--length", "ten"], 2, "--length"),
        ([10.0] * 3, ["--length", "10.0"], 2, "no unit"),
        ([10.0] * 3, ["--length", "10 m", "--pulls", "0"], 2, "--pulls 0"),
    ],
)
def test_what_is_refused(whorlpulse, pulled, lengths, options, code, words):
    ran = whorlpulse("calibrate", pulled(lengths), *options)
    assert (ran.code, ran.out) == (code, "")
    assert words in ran.err
    assert len(ran.err.splitlines()) == 1


def test_a_log_without_a_roller_says_so_and_json_has_its_keys(whorlpulse, tmp_path):
    path = tmp_path / "log.pulses"
    path.write_bytes(simulate(scenario("steady"), 0).log)
    ran = whorlpulse("calibrate", path, "--length", "10 m", "--json")
    assert ran.code == 1
    assert "no roller pulses (y) are in the log, only w (" in ran.err
    assert set(ran.json) >= KEYS
    assert ran.json["roller_m"] is None
