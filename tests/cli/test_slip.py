"""`slip`: the keys of format section 4, the answer first, what stands for "without slip", and what it refuses."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from whorlpulse.cli.exits import run

ESTIMATE = {"value", "low", "high"}


@pytest.fixture(scope="module")
def slips(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Simulated captures in folders of their scenarios' names."""
    place = tmp_path_factory.mktemp("slips")
    for name in ("planned-bursts", "slipping-band", "creeping-band", "bad-joint", "steady", "faulty-sensors"):
        assert run(["simulate", name, "-o", str(place / name), "--seed", "1"]) == 0
    return place


def truth_of(folder: Path) -> dict:
    return json.loads((folder / "truth.json").read_text())


def no_slip(folder: Path) -> float:
    return truth_of(folder)["runs"][0]["no_slip_ratio"]


def test_json_has_the_formats_keys_and_the_truth(whorlpulse, slips):
    folder = slips / "planned-bursts"
    ran = whorlpulse("slip", folder / "log.pulses", "--reference", no_slip(folder), "--json")
    assert (ran.code, ran.err) == (0, "")
    said, truth = ran.json, truth_of(folder)
    assert set(said) >= {
        *("schema", "capture", "notes", "reference", "ratio"),
        *("slip_percent", "creep_percent", "events", "periodic", "findings"),
    }
    assert said["schema"] == 2
    assert set(said["reference"]) >= {*ESTIMATE, "source"}
    assert said["reference"]["source"] == "given"
    for key in ("ratio", "slip_percent", "creep_percent"):
        assert set(said[key]) == ESTIMATE
        assert said[key]["low"] <= said[key]["value"] <= said[key]["high"]
    assert len(said["events"]) == len(truth["bursts"])
    for event, true in zip(said["events"], truth["bursts"], strict=True):
        assert set(event) >= {"start_s", "end_s", "wheel_turn", "lost_turns"}
        assert event["lost_turns"] == pytest.approx(true["lost_turns"], rel=0.1)
        assert event["wheel_turn"] == pytest.approx(true["wheel_turn"], abs=0.5)
        assert event["start_s"] == pytest.approx(true["start_s"], abs=0.4)
    assert said["creep_percent"]["value"] == pytest.approx(truth["creep_percent"], abs=0.05)
    true_slip = 100.0 * (1.0 - truth["ratio"] / no_slip(folder))
    assert said["slip_percent"]["value"] == pytest.approx(true_slip, abs=0.05)
    for finding in said["findings"]:
        assert set(finding) >= {"id", "says", "confidence", "evidence", "try"}
        assert 0.0 <= finding["confidence"] <= 1.0
    assert said["findings"][0]["id"] == "slip-bursts"


def test_a_joint_is_in_the_json_with_its_interval(whorlpulse, slips):
    folder = slips / "bad-joint"
    said = whorlpulse("slip", folder / "log.pulses", "--wheel", folder / "wheel.toml", "--json").json
    (line,) = said["periodic"]
    assert set(line) >= {"per_wheel_turn", "low", "high", "size_percent", "source"}
    # the scenario's joint: π (510 + 2.5) mm / 2.11 m, and 1 % of the ratio
    assert line["per_wheel_turn"] == pytest.approx(0.763065, rel=0.002)
    assert line["low"] <= line["per_wheel_turn"] <= line["high"]
    assert line["size_percent"] == pytest.approx(1.0, rel=0.05)
    assert line["source"] == "band"
    assert "band-joint" in [f["id"] for f in said["findings"]]
    unnamed = whorlpulse("slip", folder / "log.pulses", "--json").json
    assert [x["source"] for x in unnamed["periodic"]] == ["unknown"]
    assert any("band_length" in n for n in unnamed["notes"])


def test_the_sources_of_the_reference_in_their_order(whorlpulse, slips):
    folder, other = slips / "creeping-band", slips / "steady"
    log, wheel = folder / "log.pulses", folder / "wheel.toml"

    def source(*options: object) -> tuple[str, float, float]:
        said = whorlpulse("slip", log, *options, "--json").json["reference"]
        return said["source"], said["value"], said["high"] - said["value"]

    assert source("--reference", "8.50", "--wheel", wheel)[:2] == ("given", 8.50)
    kind, value, half = source("--reference", other / "log.pulses", "--wheel", wheel)
    assert kind == "other-capture"
    assert value == pytest.approx(truth_of(other)["ratio"], rel=1e-3)
    assert half < 0.01
    # (D + t)/(d + t) of the wheel file: 512.5 / 60.5
    kind, value, half = source("--wheel", wheel)
    assert (kind, value) == ("wheel-file", pytest.approx(512.5 / 60.5))
    assert half > 0.05  # 58 mm to the millimetre
    assert source()[0] == "this-capture"


@pytest.mark.parametrize(
    ("given", "half"),
    [("8.47", 1.96 * 0.01 / 12**0.5), ("8.47+-0.02", 1.96 * 0.02), ("8.47 ± 0.02", 1.96 * 0.02), ("8.47 : 1", 0.00566)],
)
def test_a_ratio_in_all_its_spellings(whorlpulse, slips, given, half):
    said = whorlpulse("slip", slips / "steady" / "log.pulses", "--reference", given, "--json").json
    assert said["reference"]["value"] == 8.47
    assert said["reference"]["high"] - 8.47 == pytest.approx(half, rel=0.01)


def test_too_close_to_call_is_undecided_and_says_what_would_decide(whorlpulse, slips):
    """0.46 % of slip against diameters that are good to 1 %."""
    folder = slips / "steady"
    ran = whorlpulse("slip", folder / "log.pulses", "--wheel", folder / "wheel.toml")
    first = ran.out.splitlines()[0]
    assert re.match(r"  [0-9.]+ % slip  ± [0-9.]+   undecided", first)
    assert "slow, unloaded log" in " ".join(ran.out.split())
    said = whorlpulse("slip", folder / "log.pulses", "--wheel", folder / "wheel.toml", "--json").json
    assert said["slip_percent"]["low"] < 0.0 < said["slip_percent"]["high"]
    assert "slip-undecided" in [f["id"] for f in said["findings"]]


@pytest.mark.parametrize("name", ["slipping-band", "creeping-band", "bad-joint", "planned-bursts", "steady"])
def test_text_answers_first_and_repeats_the_json(whorlpulse, slips, name, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    log = slips / name / "log.pulses"
    options = ("--wheel", slips / name / "wheel.toml")
    text, said = whorlpulse("slip", log, *options).out, whorlpulse("slip", log, *options, "--json").json
    found = re.match(r"  (-?[0-9.]+) % slip  ± ([0-9.]+)   ", text)
    assert found
    assert float(found[1]) == pytest.approx(said["slip_percent"]["value"], abs=0.51 * float(found[2]))
    half = said["slip_percent"]["high"] - said["slip_percent"]["value"]
    assert float(found[2]) == pytest.approx(half, rel=0.5)
    assert max(len(line) for line in text.splitlines()) <= 80
    for finding in said["findings"]:
        assert " ".join(finding["says"].split()) in " ".join(text.split())


def test_who_is_told_to_touch_the_band_is_told_to_stop_the_wheel(whorlpulse, slips):
    for name, touches in (("slipping-band", True), ("bad-joint", True), ("steady", False)):
        folder = slips / name
        ran = whorlpulse("slip", folder / "log.pulses", "--wheel", folder / "wheel.toml", "--json").json
        caution = [n for n in ran["notes"] if "safety certificate" in n]
        assert bool(caution) is touches
        if touches:
            assert "Stop the wheel" in caution[0]
            assert "fingers" in caution[0]


def test_without_a_reference_creep_is_null_with_its_reason(whorlpulse, slips):
    said = whorlpulse("slip", slips / "slipping-band" / "log.pulses", "--json").json
    assert said["creep_percent"] is None
    assert any("creep is not known" in n for n in said["notes"])
    assert "at least" in whorlpulse("slip", slips / "slipping-band" / "log.pulses").out.splitlines()[0]


def test_one_wheel_target_says_what_it_cannot_see(whorlpulse, slips):
    said = whorlpulse("slip", slips / "steady" / "log.pulses", "--json").json
    assert any("can't be seen at all" in n for n in said["notes"])


def test_bad_sensors_are_named_and_are_no_slip(whorlpulse, slips):
    folder = slips / "faulty-sensors"
    said = whorlpulse("slip", folder / "log.pulses", "--reference", no_slip(folder), "--json").json
    ids = [f["id"] for f in said["findings"]]
    assert "missed-pulses" in ids
    assert "slip-bursts" not in ids
    assert said["events"] == []


def test_a_wrong_number_of_targets_is_said_instead_of_slip(whorlpulse, slips):
    folder = slips / "planned-bursts"
    said = whorlpulse("slip", folder / "log.pulses", "--targets", "w=2 f=1", "--json").json
    assert [f["id"] for f in said["findings"]] == ["wheel-targets"]


def test_a_reference_of_another_whorl_is_left_aside(whorlpulse, slips):
    said = whorlpulse("slip", slips / "steady" / "log.pulses", "--reference", "4.10", "--json").json
    assert said["reference"]["source"] == "this-capture"
    assert any("was left aside" in n for n in said["notes"])


def test_what_is_refused_is_one_line(whorlpulse, slips, tmp_path):
    log = slips / "steady" / "log.pulses"
    for words, what in (
        (("--reference", "0.001"), "--reference"),
        (("--reference", "8.4+-9"), "--reference"),
        (("--reference", tmp_path / "none.pulses"), "none.pulses"),
    ):
        ran = whorlpulse("slip", log, *words)
        assert (ran.code, ran.out) == (2, "")
        assert what in ran.err
        assert ran.err.count("\n") == 1
    short = tmp_path / "short.pulses"
    short.write_bytes(b"".join(log.read_bytes().splitlines(keepends=True)[:50]))
    ran = whorlpulse("slip", log, "--reference", short)
    assert ran.code == 2
    assert "as a reference: too few whole wheel turns" in ran.err
    ran = whorlpulse("slip", short, "--json")
    assert ran.code == 1
    assert ran.json["slip_percent"] is None
    assert any("too few whole wheel turns" in n for n in ran.json["notes"])
    assert ran.err.count("\n") == 1


def test_standard_input(whorlpulse, slips, monkeypatch):
    data = (slips / "steady" / "log.pulses").open("rb")
    monkeypatch.setattr("sys.stdin", type("Stdin", (), {"buffer": data})())
    with data:
        assert whorlpulse("slip", "-", "--json").json["capture"] == "standard input"
