"""Simulated captures through the real command, held to the bars of the design against the truth beside them."""

import json

import pytest

#: Scenario -> how near each run's ratio must come to the shafts' own: design section 9.
BARS = {
    "steady": 2e-4,
    "faulty-sensors": 5e-4,
    "bad-line": 5e-4,
    "three-runs": 5e-4,
    "uneven-magnets": 2e-4,
    "coarse-clock": 1e-3,
}


@pytest.fixture(scope="module", params=BARS)
def measured(request, command, tmp_path_factory):
    place = tmp_path_factory.mktemp(request.param)
    assert command("simulate", request.param, "-o", place, "--seed", "7").returncode == 0
    ran = command("ratio", place / "log.pulses", "--json")
    assert ran.returncode == 0, ran.stderr
    return request.param, json.loads(ran.stdout), json.loads((place / "truth.json").read_text())


def test_the_ratio_is_within_its_bar(measured):
    name, said, truth = measured
    assert said["ratio"]["value"] == pytest.approx(truth["ratio"], rel=BARS[name])


def test_runs_and_losses_are_all_told(measured):
    name, said, truth = measured
    notes = " ".join(said["notes"])
    if name == "three-runs":
        assert len(said["runs"]) == 3
        for run, true in zip(said["runs"], truth["runs"], strict=True):
            assert run["ratio"]["value"] == pytest.approx(true["ratio"], rel=5e-4)
        assert "rolled by hand" in notes
    elif name == "bad-line":
        assert f"Lines lost on the way: {truth['lines']['lost']}" in notes
        assert f"Damaged lines left out: {truth['lines']['garbled']}" in notes
        assert "torn" in notes
    elif name == "faulty-sensors":
        assert "Missed pulses filled in" in notes
    elif name == "coarse-clock":
        assert "stand for several pulses" in notes
    else:
        assert "lost" not in notes
        assert "Damaged" not in notes
