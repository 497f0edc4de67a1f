"""A clean log has no fault, whatever the feet, the wheel and the band do: twenty seeds of each."""

import pytest
from tests.findings.logs import bare, channel, health, ids, log_of

from whorlpulse.findings.catalogue.sensors import INFORMATION
from whorlpulse.simulate import scenario, simulate


@pytest.mark.parametrize("name", ["steady", "three-runs", "hard-uneven", "skein-on-plan"])
def test_clean_sensors_give_no_fault_in_twenty_seeds(name):
    for seed in range(20):
        report = health(log_of(scenario(name), seed))
        assert ids(report)[0] == "log-healthy", (seed, ids(report))
        assert set(ids(report)) <= INFORMATION


@pytest.mark.parametrize("name", ["slipping-band", "planned-bursts", "creeping-band", "bad-joint", "three-whorls"])
def test_a_band_that_slips_is_no_fault_of_a_sensor(name):
    for seed in range(5):
        assert set(ids(health(log_of(scenario(name), seed)))) <= INFORMATION


def test_every_pulse_is_counted_where_nothing_is_wrong():
    capture = simulate(scenario("skein-on-plan"), 3)
    report = health(capture.log)
    for letter, reports in capture.truth.reports.items():
        assert channel(report, letter).pulses == len(reports.t_s)
        assert channel(report, letter).extra == 0
    assert channel(report, "w").missed == channel(report, "f").missed == 0
    assert report.duration_s == pytest.approx(capture.truth.duration_s, abs=1.0)  # up to a second without a line


def test_a_log_that_could_hide_losses_is_called_healthy_less_surely():
    sure, unsure = health(log_of(scenario("steady"), 1)), health(log_of(bare(), 1))
    assert ids(unsure) == ["log-healthy", "no-checksums", "no-sequence"]
    assert unsure.findings[0].confidence < sure.findings[0].confidence


def test_hands_on_the_wheel_in_a_pause_are_information():
    report = health(log_of(scenario("three-runs"), 2))
    assert ids(report) == ["log-healthy", "hand-rolled"]
