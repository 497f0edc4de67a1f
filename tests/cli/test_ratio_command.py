"""`ratio`: the keys of format section 4, the simulated truth inside the bars, whorls by name, the answer first."""

import json
import re

import pytest


def test_json_has_the_formats_keys_and_the_truth(whorlpulse, captures):
    ran = whorlpulse("ratio", captures / "steady" / "log.pulses", "--json")
    assert (ran.code, ran.err) == (0, "")
    said = ran.json
    assert {"schema", "capture", "notes", "ratio", "wheel_turns", "flyer_turns", "runs", "whorls"} <= set(said)
    assert said["schema"] == 2
    assert said["capture"] == "log.pulses"
    assert all(isinstance(n, str) for n in said["notes"])
    (run,) = said["runs"]
    assert {"start_s", "end_s", "ratio", "wheel_turns", "flyer_turns", "cadence_per_min"} <= set(run)
    (whorl,) = said["whorls"]
    assert (whorl["runs"], whorl["name"]) == ([0], None)
    truth = json.loads((captures / "steady" / "truth.json").read_text())
    ratio = said["ratio"]
    assert ratio["low"] < ratio["value"] < ratio["high"]
    # the bar for a clean 90 s log: 0.02 % (design section 9)
    assert ratio["value"] == pytest.approx(truth["ratio"], rel=2e-4)
    assert run["cadence_per_min"] == pytest.approx(truth["runs"][0]["cadence_per_min"], rel=0.03)
    assert said["flyer_turns"] / said["wheel_turns"] == pytest.approx(ratio["value"], rel=2e-4)


def test_whorls_are_named_after_the_nearest_of_the_wheel_file(whorlpulse, captures):
    folder = captures / "three-whorls"
    said = whorlpulse("ratio", folder / "log.pulses", "--wheel", folder / "wheel.toml", "--json").json
    truth = json.loads((folder / "truth.json").read_text())
    assert [w["name"] for w in said["whorls"]] == ["large", "middle", "small"]
    assert [w["runs"] for w in said["whorls"]] == [[0], [1], [2]]
    for whorl, run in zip(said["whorls"], truth["runs"], strict=True):
        assert whorl["name"] == run["whorl"]
        # the bar for three whorls in one log: 0.05 % each
        assert whorl["ratio"]["value"] == pytest.approx(run["ratio"], rel=5e-4)


def test_a_measured_ratio_wins_over_diameters(whorlpulse, captures, tmp_path):
    wheel = tmp_path / "wheel.toml"
    wheel.write_text(
        '[wheel]\nwheel_diameter = "500 mm"\nband_thickness = "2 mm"\n'
        '[[whorl]]\nname = "by diameter"\ndiameter = "58 mm"\nratio = 20.0\n'
        '[[whorl]]\nname = "by ratio"\nratio = 8.40\n'
    )
    ran = whorlpulse("ratio", captures / "steady" / "log.pulses", "--wheel", wheel)
    assert "by ratio" in ran.out
    assert "by diameter" not in ran.out


def test_a_ratio_that_no_whorl_has(whorlpulse, captures, tmp_path):
    wheel = tmp_path / "wheel.toml"
    wheel.write_text('[[whorl]]\nname = "other"\nratio = 9.30\n')  # 9 % away and more
    said = whorlpulse("ratio", captures / "steady" / "log.pulses", "--wheel", wheel, "--json").json
    assert said["whorls"][0]["name"] is None
    assert any("not within 8 %" in n for n in said["notes"])


def test_text_answers_first_and_repeats_the_json(whorlpulse, captures):
    path = captures / "steady" / "log.pulses"
    text, said = whorlpulse("ratio", path).out, whorlpulse("ratio", path, "--json").json
    first = text.splitlines()[0]
    found = re.fullmatch(r"  ([0-9.]+) : 1  ± ([0-9.]+)   flyer turns per wheel turn, 95 % sure", first)
    assert found
    assert float(found[1]) == pytest.approx(said["ratio"]["value"], abs=0.5 * float(found[2]))
    assert float(found[2]) == pytest.approx((said["ratio"]["high"] - said["ratio"]["low"]) / 2, rel=0.2001)
    assert "The ± comes from" in text
    assert max(len(line) for line in text.splitlines()) <= 80


def test_standard_input(whorlpulse, captures, monkeypatch):
    data = (captures / "steady" / "log.pulses").open("rb")
    monkeypatch.setattr("sys.stdin", type("Stdin", (), {"buffer": data})())
    with data:
        ran = whorlpulse("ratio", "-", "--json")
    assert ran.json["capture"] == "standard input"
    assert ran.json["ratio"]["value"] > 1


def test_too_short_says_what_would_be_enough_and_keeps_what_it_has(whorlpulse, captures, tmp_path):
    lines = (captures / "steady" / "log.pulses").read_bytes().splitlines(keepends=True)
    short = tmp_path / "short.pulses"
    short.write_bytes(b"".join(lines[:50]))
    ran = whorlpulse("ratio", short, "--json")
    assert ran.code == 1
    assert ran.json["ratio"] is None
    assert re.search(r"too few whole wheel turns .* where 5 are needed: \d+ s of treadling", ran.err)
    assert ran.err.count("\n") == 1
    assert any("too few whole wheel turns" in n for n in ran.json["notes"])
    # as much as it asks for is enough
    enough_s = float(re.search(r"(\d+) s of treadling", ran.err)[1])
    longer = tmp_path / "longer.pulses"
    begun = next(int(line.split(b",")[1]) for line in lines if line.startswith(b"f"))
    limit = begun + enough_s * 1e6
    longer.write_bytes(b"".join(x for x in lines if x[:1] == b"#" or int(x.split(b"*")[0].split(b",")[1]) < limit))
    assert whorlpulse("ratio", longer).code == 0
