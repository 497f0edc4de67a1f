"""Each fault of a sensor on a shaft: found where it was put in, with the counts that were put in."""

from dataclasses import replace

import pytest
from tests.findings.logs import (
    FOUR,
    bare,
    channel,
    health,
    ids,
    keep_lines,
    log_of,
    the,
    with_faults,
    with_sensors,
)

from whorlpulse.simulate import Foot, Sensor, scenario, simulate


@pytest.mark.parametrize("name", ["steady", "hard-uneven", "skein-on-plan"])
def test_exchanged_channels_are_found(name):
    for seed in range(5):
        report = health(log_of(with_faults(name, swapped=("w", "f")), seed))
        finding = the(report, "channels-swapped")
        assert ids(report)[0] == "channels-swapped"
        assert finding.figures["exchanged"] == pytest.approx(8.4, rel=0.03)  # the simulated whorl, less its slip
        assert finding.confidence > 0.9
        assert channel(report, "w").missed is None  # nothing is said of what can't be judged


def test_exchanged_channels_are_found_by_numbers_alone_less_surely():
    case = replace(with_faults("steady", swapped=("w", "f")), foot=Foot(treadles=2))
    assert 0.5 < the(health(log_of(case, 1)), "channels-swapped").confidence < 0.9


@pytest.mark.parametrize(
    ("name", "stated", "letter", "real"),
    [
        ("uneven-magnets", {"w": 1}, "wheel", 4),
        ("uneven-magnets", {"w": 3}, "wheel", 4),
        ("uneven-magnets", {"f": 1}, "flyer", 2),
        ("steady", {"w": 4}, "wheel", 1),
        ("hard-uneven", {"w": 3}, "wheel", 1),
    ],
)
def test_a_wrong_number_of_targets_is_found_with_the_right_one(name, stated, letter, real):
    for seed in range(4):
        finding = the(health(log_of(scenario(name), seed), stated), f"{letter}-targets")
        assert finding.figures["found"] == real
        assert finding.figures["ratio_then"] == pytest.approx(8.4, rel=0.03)


@pytest.mark.parametrize("number", [4, 12])
def test_even_targets_are_numbered_by_the_rhythm_of_the_feet(number):
    angles = tuple(i / number for i in range(number))
    for seed in range(4):
        report = health(log_of(with_sensors("steady", Sensor("w", angles), Sensor("f")), seed), {"w": 1})
        assert the(report, "wheel-targets").figures["found"] == number


def test_a_ratio_that_no_wheel_has_is_doubted_when_nothing_tells_the_number():
    case = replace(with_sensors("steady", Sensor("w", FOUR), Sensor("f")), foot=Foot(treadles=2))
    finding = the(health(log_of(case, 1), {"w": 1}), "ratio-unlikely")
    assert finding.figures["ratio"] == pytest.approx(8.4 / 4, rel=0.03)


@pytest.mark.parametrize("seed", range(6))
def test_missed_doubled_and_bounced_pulses_are_counted(seed):
    capture = simulate(scenario("faulty-sensors"), seed)
    report = health(capture.log)
    flyer, wheel = (capture.truth.reports[c] for c in "fw")
    # three pulses: those missed or doubled while the wheel started or ran down belong to no interval to judge by
    assert channel(report, "f").missed == pytest.approx(flyer.missed, abs=3)
    assert channel(report, "f").extra == pytest.approx(flyer.doubled, abs=3)
    assert channel(report, "w").extra == pytest.approx(wheel.bounced, abs=1)
    assert the(report, "missed-pulses").figures["shaft"] == "flyer"
    assert any(f.id == "bounce" and f.figures["shaft"] == "wheel" for f in report.findings)
    # bounces were simulated 0.2 to 4 ms late
    delays = [f.figures["delay_ms"] for f in report.findings if f.id == "bounce" and f.figures["shaft"] == "wheel"]
    assert all(0.2 <= d <= 4.0 for d in delays)


@pytest.mark.parametrize("seed", range(4))
def test_faults_of_the_wheel_sensor_are_not_blamed_on_the_flyer(seed):
    capture = simulate(with_sensors("steady", Sensor("w", missed=0.06), Sensor("f")), seed)
    report = health(capture.log)
    assert channel(report, "w").missed == pytest.approx(capture.truth.reports["w"].missed, abs=3)  # ends, as above
    assert the(report, "missed-pulses").figures["shaft"] == "wheel"
    assert channel(report, "f").missed == channel(report, "f").extra == 0


def test_uneven_magnets_are_information_with_their_angles():
    for seed in range(5):
        report = health(log_of(scenario("uneven-magnets"), seed))
        assert ids(report)[0] == "log-healthy"
        assert ids(report).count("uneven-targets") == 2
        angles = channel(report, "w").angles_turns
        gaps = sorted(360.0 * (b - a) for a, b in zip(angles, [*angles[1:], 1.0], strict=True))
        # put in at 0, 108, 160 and 281 degrees; which is called the first is chance
        assert gaps == pytest.approx([52.0, 79.0, 108.0, 121.0], abs=1.0)


def test_even_magnets_are_not_called_uneven():
    case = with_sensors("steady", Sensor("w", FOUR), Sensor("f"))
    assert ids(health(log_of(case, 1))) == ["log-healthy"]


@pytest.mark.parametrize(("letter", "key"), [("f", "flyer-went-silent"), ("w", "wheel-went-silent")])
def test_a_sensor_that_goes_silent_is_found_in_its_place(letter, key):
    for seed in range(4):
        log = keep_lines(log_of(bare(), seed), lambda c, t: c != letter or not 40.0 < t < 60.0)
        finding = the(health(log), key)
        assert finding.figures["from_s"] == pytest.approx(40.0, abs=1.1)  # within a turn
        assert finding.figures["to_s"] == pytest.approx(60.0, abs=1.1)


def test_a_flyer_that_never_comes_back_is_silent_to_the_end():
    report = health(keep_lines(log_of(bare(), 1), lambda c, t: c != "f" or t < 60.0))
    assert the(report, "flyer-went-silent").figures["from_s"] == pytest.approx(60.0, abs=1.1)
    assert "hand-rolled" not in ids(report)


@pytest.mark.parametrize(("letter", "key"), [("f", "no-flyer"), ("w", "no-wheel")])
def test_a_channel_that_is_not_there_is_named_first(letter, key):
    report = health(keep_lines(log_of(bare(), 1), lambda c, _: c != letter))
    assert ids(report)[0] == key
    assert channel(report, letter).pulses == 0
    assert channel(report, letter).missed is None


def test_a_roller_that_the_header_speaks_of_is_missed():
    silent = health(keep_lines(log_of(bare("skein-on-plan"), 1), lambda c, _: c != "y"))
    assert "roller-silent" in ids(silent)
    assert "roller-silent" not in ids(health(log_of(scenario("steady"), 1)))


def test_three_seconds_are_too_short_and_enough_is_enough():
    log = log_of(bare(), 1)
    finding = the(health(keep_lines(log, lambda _, t: 20.0 < t < 23.0)), "too-short")
    enough_s = finding.figures["enough_s"]
    assert enough_s == pytest.approx(7 * 60.0 / 62.0, abs=1.0)  # 7 turns at the simulated 62 a minute
    longer = health(keep_lines(log, lambda _, t: 20.0 < t < 20.0 + enough_s))
    assert "too-short" not in ids(longer)


def test_a_loose_ratio_says_how_many_turns_would_do():
    finding = the(health(log_of(scenario("slipping-band").lasting(12.0), 1)), "ratio-loose")
    assert finding.figures["percent"] > 0.5
    assert finding.figures["enough"] > finding.figures["turns"]
    assert "ratio-loose" not in ids(health(log_of(scenario("slipping-band"), 1)))
