"""A roller whose sensor misses pulses is named by `check` and told by `twist`; a sound one is not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from whorlpulse.simulate import Scenario, Sensor, scenario, simulate

FOUR = (0.0, 0.25, 0.5, 0.75)


def skein(missed: float) -> Scenario:
    return replace(
        scenario("skein-on-plan"),
        sensors=(Sensor("w"), Sensor("f"), Sensor("y", FOUR, width=0.05, missed=missed)),
    )


@pytest.mark.parametrize(("missed", "named"), [(0.0, False), (0.04, True)])
def test_a_roller_that_misses_pulses_is_named(whorlpulse, tmp_path, missed, named):
    capture = simulate(skein(missed), 3)
    log = tmp_path / "log.pulses"
    log.write_bytes(capture.log)
    said = whorlpulse("check", log, "--json").json
    assert ("roller-missed-pulses" in [f["id"] for f in said["findings"]]) == named
    assert (said["channels"]["y"]["missed"] is not None) == named
    text = whorlpulse("check", log).out
    assert ("The roller's sensor misses pulses" in text) == named
    told = whorlpulse("twist", log, "--json").json
    assert any("were put in" in n for n in told["notes"]) == named
    if named:
        true = capture.truth.reports["y"].missed
        (found,) = [f for f in said["findings"] if f["id"] == "roller-missed-pulses"]
        assert 0.4 * true <= said["channels"]["y"]["missed"] <= true
        assert found["confidence"] > 0.5
    # 4 % missed would make it 4 % too high
    assert told["twist_tpm"]["value"] == pytest.approx(capture.truth.twist_tpm, rel=0.01)


def test_slip_says_nothing_of_the_roller(whorlpulse, tmp_path):
    log = tmp_path / "log.pulses"
    log.write_bytes(simulate(skein(0.04), 3).log)
    said = whorlpulse("slip", log, "--json").json
    assert not [f for f in said["findings"] if "roller" in f["says"]]
