"""`cadence`: the keys of format section 4, the simulated truth, the answer first, errors in one line."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest

from whorlpulse.simulate import Board, Foot, Sensor, scenario, simulate

KEYS = {
    "schema",
    "capture",
    "notes",
    "cadence_per_min",
    "steadiness_percent",
    "treadles",
    "profile",
    "trend_per_min_per_min",
}


@pytest.fixture
def log(captures):
    return captures / "steady" / "log.pulses"


def written(folder, case, seed=1):
    capture = simulate(case, seed)
    path = folder / "made.pulses"
    path.write_bytes(capture.log)
    return path, capture.truth


def test_json_has_the_formats_keys_and_the_truth(whorlpulse, captures, log):
    ran = whorlpulse("cadence", log, "--json")
    assert (ran.code, ran.err) == (0, "")
    said = ran.json
    assert set(said) >= KEYS
    assert (said["schema"], said["capture"], said["treadles"], said["reversals"]) == (2, "log.pulses", None, None)
    truth = json.loads((captures / "steady" / "truth.json").read_text())
    cadence = said["cadence_per_min"]
    # the truth's mean counts starting up and running down too; they are a few turns of 90
    assert cadence["low"] < cadence["value"] < cadence["high"]
    assert cadence["value"] == pytest.approx(truth["runs"][0]["cadence_per_min"], rel=0.03)
    assert len(said["profile"]) == 24
    assert [set(p) >= {"wheel_angle_turns", "speed"} for p in said["profile"]] == [True] * 24
    assert np.mean([1 / p["speed"] for p in said["profile"]]) == pytest.approx(1.0, abs=1e-3)
    assert said["steadiness_percent"] ** 2 == pytest.approx(
        said["drift_percent"] ** 2 + said["turn_to_turn_percent"] ** 2
    )
    assert isinstance(said["trend_per_min_per_min"], float)
    assert any("can't be counted" in n for n in said["notes"])


def test_text_answers_first_and_repeats_the_json(whorlpulse, log):
    text, said = whorlpulse("cadence", log).out, whorlpulse("cadence", log, "--json").json
    found = re.fullmatch(r"  ([0-9.]+) ± ([0-9.]+) turns a minute   steady to ([0-9.]+) %", text.splitlines()[0])
    assert found
    assert float(found[1]) == pytest.approx(said["cadence_per_min"]["value"], abs=0.5 * float(found[2]))
    assert float(found[3]) == pytest.approx(said["steadiness_percent"], rel=0.1)
    assert max(len(line) for line in text.splitlines()) <= 80
    rows = re.findall(r"^  (0\.\d\d) +([+-][0-9.]+) %  [·●─│]+$", text, re.MULTILINE)
    assert len(rows) == 12
    for (_, percent), point in zip(rows, said["profile"][::2], strict=True):
        assert 1 + float(percent) / 100 == pytest.approx(point["speed"], abs=1e-3)


@pytest.mark.parametrize("ppm", [3000.0, -3000.0])
def test_sync_lines_correct_a_clock_that_is_off(whorlpulse, tmp_path, ppm):
    case = replace(scenario("steady").lasting(180.0), board=Board(clock_error_ppm=ppm, sync_every_s=10.0))
    path, truth = written(tmp_path, case)
    said = whorlpulse("cadence", path, "--json").json
    (run,) = said["runs"]
    # a run's times are the board's; the true ones are these passages
    passages = truth.passages_s("w")
    ends = [passages[np.abs(passages - run[k] / (1 + 1e-6 * ppm)).argmin()] for k in ("start_s", "end_s")]
    true = 60 * run["wheel_turns"] / (ends[1] - ends[0])
    assert said["cadence_per_min"]["value"] == pytest.approx(true, rel=100e-6)
    assert said["clock"]["fast_percent"]["value"] == pytest.approx(1e-4 * ppm, abs=0.01)
    assert said["clock"]["fast_percent"]["low"] < 1e-4 * ppm < said["clock"]["fast_percent"]["high"]
    word = "fast" if ppm > 0 else "slow"
    assert any(re.search(rf"runs 0\.30\d* ± 0\.\d+ % {word}; the cadence is corrected", n) for n in said["notes"])


def test_without_sync_lines_the_clock_is_in_the_interval(whorlpulse, tmp_path):
    steady = replace(scenario("steady"), motion="kinematic", foot=Foot(wander=0.0, turn_scatter=0.0))
    path, _ = written(tmp_path, steady)
    said = whorlpulse("cadence", path, "--json").json
    cadence = said["cadence_per_min"]
    # GUM 4.3.7 and G.3: a rectangle of ±0.5 %, its standard uncertainty times 1.96
    assert (cadence["high"] - cadence["low"]) / 2 / cadence["value"] == pytest.approx(
        1.96 * 0.005 / np.sqrt(3), rel=0.01
    )
    assert any("may be off by up to 0.5 %" in n and "Ratio and twist don't depend on it" in n for n in said["notes"])
    assert any("Most of the ± is the board's clock" in n for n in said["notes"])


def test_treadles_are_as_told(whorlpulse, tmp_path, log):
    assert whorlpulse("cadence", log, "--treadles", "single", "--json").json["treadles"] == 1
    double, _ = written(tmp_path, replace(scenario("steady"), foot=Foot(treadles=2)))
    said = whorlpulse("cadence", double, "--treadles", "double", "--json").json
    assert said["treadles"] == 2
    assert len(said["slow_turns"]) == 2
    assert not any("one foot pushes harder" in n for n in said["notes"])
    hinted = whorlpulse("cadence", double, "--json").json
    assert hinted["treadles"] is None
    assert any("mostly twice" in n and "can't prove it" in n for n in hinted["notes"])
    told = whorlpulse("cadence", log, "--treadles", "double", "--json").json
    assert any("one foot pushes harder" in n for n in told["notes"])
    refused = whorlpulse("cadence", log, "--treadles", "triple")
    assert (refused.code, refused.out) == (2, "")
    assert refused.err == 'whorlpulse: --treadles "triple": write single or double\n'


def test_runs_and_the_stops_between(whorlpulse, captures):
    path = captures / "three-whorls" / "log.pulses"
    said = whorlpulse("cadence", path, "--json").json
    truth = json.loads((captures / "three-whorls" / "truth.json").read_text())
    assert len(said["runs"]) == len(truth["runs"]) == 3
    for run, true in zip(said["runs"], truth["runs"], strict=True):
        assert true["start_s"] < run["start_s"] < run["end_s"] < true["end_s"]
        assert run["cadence_per_min"] == pytest.approx(true["cadence_per_min"], rel=0.06)  # ramps are not in ours
    assert len(said["stops"]) == 2
    assert "Stops between runs: 2." in whorlpulse("cadence", path).out


def test_a_wheel_alone_has_a_cadence_and_says_why_no_profile(whorlpulse, tmp_path):
    path, _ = written(tmp_path, replace(scenario("steady"), sensors=(Sensor("w"),)))
    said = whorlpulse("cadence", path, "--json").json
    assert said["profile"] is None
    assert said["cadence_per_min"]["value"] > 1
    assert any("needs flyer pulses" in n for n in said["notes"])
    assert whorlpulse("cadence", path).code == 0


def test_exchanged_channels_are_no_cadence_that_anybody_keeps(whorlpulse, tmp_path):
    capture = simulate(scenario("steady"), 1)
    path = tmp_path / "exchanged.pulses"
    # exchanged letters, without checksums, which would no longer be right
    lines = [
        x.split(b"*")[0].translate(bytes.maketrans(b"wf", b"fw")) for x in capture.log.splitlines() if x[:1] != b"#"
    ]
    path.write_bytes(b"\n".join(lines) + b"\n")
    assert any("are wheel and flyer exchanged" in n for n in whorlpulse("cadence", path, "--json").json["notes"])


def test_what_can_not_be_said_is_one_line_and_exit_code_1(whorlpulse, tmp_path, log):
    flyer, _ = written(tmp_path, replace(scenario("steady"), sensors=(Sensor("f"),)))
    ran = whorlpulse("cadence", flyer, "--json")
    assert (ran.code, ran.json["cadence_per_min"]) == (1, None)
    assert re.fullmatch(r"whorlpulse: made\.pulses: no wheel pulses .*\n", ran.err)
    lines = log.read_bytes().splitlines(keepends=True)
    short = tmp_path / "short.pulses"
    short.write_bytes(b"".join(lines[:50]))
    ran = whorlpulse("cadence", short, "--json")
    assert ran.code == 1
    assert set(ran.json) >= KEYS
    assert ran.json["steadiness_percent"] is None
    enough_s = float(re.search(r"where 5 are needed: (\d+) s of treadling", ran.err)[1])
    begun = next(int(line.split(b",")[1]) for line in lines if line.startswith(b"w"))
    limit = begun + enough_s * 1e6
    short.write_bytes(b"".join(x for x in lines if x[:1] == b"#" or int(x.split(b"*")[0].split(b",")[1]) < limit))
    assert whorlpulse("cadence", short).code == 0
    empty = tmp_path / "empty.pulses"
    empty.write_bytes(b"")
    assert whorlpulse("cadence", empty).code == 1
    assert whorlpulse("cadence", tmp_path / "none.pulses").code == 2
