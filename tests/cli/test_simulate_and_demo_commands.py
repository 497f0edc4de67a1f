"""`simulate` writes captures that say what they are and overwrites nothing; `demo` shows figures beside the truth."""

import json
from pathlib import Path

import pytest

from whorlpulse.simulate import scenario_names


def test_every_file_of_a_capture(captures):
    folder = captures / "skein-soft"
    assert {p.name for p in folder.iterdir()} == {"log.pulses", "truth.json", "wheel.toml", "plan.toml", "NOTES.md"}
    assert "**Simulated.**" in (folder / "NOTES.md").read_text()
    assert json.loads((folder / "truth.json").read_text())["simulated"] is True
    assert b"simulated by whorlpulse" in (folder / "log.pulses").read_bytes()


def test_a_scenario_without_a_plan_has_none(captures):
    assert not (captures / "steady" / "plan.toml").exists()


def test_seeds(whorlpulse, captures, tmp_path):
    for name, seed in (("same", 1), ("other", 2)):
        assert whorlpulse("simulate", "steady", "-o", tmp_path / name, "--seed", seed).code == 0
    old, same, other = (
        (p / "log.pulses").read_bytes() for p in (captures / "steady", tmp_path / "same", tmp_path / "other")
    )
    assert same == old
    assert other != old


def test_nothing_is_overwritten_unasked(whorlpulse, tmp_path):
    kept = tmp_path / "truth.json"
    kept.write_text("mine")
    ran = whorlpulse("simulate", "steady", "-o", tmp_path)
    assert ran.code == 2
    assert "truth.json already" in ran.err
    assert [p.name for p in tmp_path.iterdir()] == ["truth.json"]
    assert kept.read_text() == "mine"
    assert whorlpulse("simulate", "steady", "-o", tmp_path, "--replace").code == 0
    assert kept.read_text() != "mine"


def test_the_list_names_every_scenario(whorlpulse):
    listed = [line.split()[0] for line in whorlpulse("simulate", "--list").out.splitlines()]
    assert listed == list(scenario_names())


@pytest.mark.parametrize("words", [(), ("no-such",)])
def test_no_such_scenario(whorlpulse, words):
    ran = whorlpulse("simulate", *words)
    assert ran.code == 2
    assert "skein-soft" in ran.err


@pytest.fixture
def demo(whorlpulse, tmp_path) -> tuple[dict, Path]:
    ran = whorlpulse("demo", "--seed", "4", "--keep", tmp_path / "kept", "--json")
    assert ran.code == 0
    return ran.json, tmp_path / "kept"


def test_the_demo_is_right_and_says_that_it_is_simulated(demo):
    said, kept = demo
    assert said["simulated"] is True
    assert [row["what"] for row in said["bench"]] == [f"ratio on the {n} whorl" for n in ("large", "middle", "small")]
    for row, bar in [(r, 5e-4) for r in said["bench"]] + [(r, 5e-3) for r in said["skein"]]:
        assert row["measured"]["value"] == pytest.approx(row["truth"], rel=bar)
    # the log's end cuts this seed's last draw: its turns are in less yarn, and it is over plan in truth
    for found, true in zip(said["off_plan"], said["true_off_plan"], strict=True):
        assert (found["from_m"], found["to_m"]) == pytest.approx((true["from_m"], true["to_m"]), abs=0.3)
        assert found["twist_tpi"] == pytest.approx(true["twist_tpi"], rel=0.05)
    assert [s["verdict"] for s in said["off_plan"]] == ["under", "over"]
    truth = json.loads((kept / "skein-soft" / "truth.json").read_text())
    assert said["skein"][0]["truth"] == pytest.approx(truth["twist_tpm"])


def test_the_demo_as_text(whorlpulse):
    ran = whorlpulse("demo")
    assert ran.code == 0
    assert "simulated truth" in ran.out
    assert "whorlpulse simulate skein-soft" in ran.out
    assert max(len(line) for line in ran.out.splitlines()) <= 80
