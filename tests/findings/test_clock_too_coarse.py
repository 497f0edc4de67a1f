"""A clock too coarse for its pulses is a finding of `check`, exactly where the commands refuse; simulated clocks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.findings.logs import channel, health, ids, log_of, the

from whorlpulse.actions.measure_ratio import measure_ratio
from whorlpulse.actions.ratio_so_far import ratio_so_far
from whorlpulse.actions.recording import read_recording
from whorlpulse.conditioning import condition
from whorlpulse.estimators.clock_steps import coarse_steps
from whorlpulse.findings.catalogue.sensors import INFORMATION
from whorlpulse.rig import Rig
from whorlpulse.simulate import Board, scenario, simulate


def on_clock(hz: float, name: str = "steady"):
    """A simulated log whose board's clock has so many ticks a second."""
    return replace(scenario(name), board=Board(tick_hz=hz, start_tick=0))


@pytest.mark.parametrize("hz", [8.0, 12.0, 16.0])
def test_a_clock_too_coarse_for_the_flyer_is_found_with_its_figures(hz):
    case = on_clock(hz)
    found = the(health(log_of(case, 3)), "clock-too-coarse")
    # the flyer's turns by the simulator's truth: half of its passages are no further apart than this
    truth = simulate(case, 3).truth
    run = truth.runs[0]
    turns = truth.flyer_turns_at(np.arange(run.start_s, run.end_s, 0.01))
    between_s = 0.01 / np.median(np.diff(turns))
    assert found.figures["shaft"] == "flyer"
    assert found.figures["ticks"] == pytest.approx(between_s * hz, abs=1.0)  # ticks are whole numbers
    assert found.figures["hertz"] == hz
    assert found.figures["enough"] * between_s == pytest.approx(3.0, abs=1.5)  # three ticks, known to half
    assert found.confidence == 1.0
    assert found.id not in INFORMATION


@pytest.mark.parametrize("hz", [8.0, 16.0])
def test_beside_it_nothing_is_said_of_the_shafts(hz):
    report = health(log_of(on_clock(hz), 3))
    assert set(ids(report)) <= {"clock-too-coarse", "no-checksums", "no-sequence"}
    assert [n.key for n in report.notes].count("shafts-not-judged-clock") == 1
    for letter in "wf":
        assert (channel(report, letter).missed, channel(report, letter).noise_s) == (None, None)


@pytest.mark.parametrize("hz", [64.0, 128.0, 1024.0, 1e6])
def test_a_clock_that_does_is_not_named(hz):
    assert "clock-too-coarse" not in ids(health(log_of(on_clock(hz), 3)))


def test_counts_reported_once_a_second_are_exact_on_any_clock():
    case = scenario("coarse-clock")
    assert "clock-too-coarse" not in ids(health(log_of(case, 1)))
    slow = replace(case, board=replace(case.board, tick_hz=4.0, tick_bits=32, start_tick=0))
    assert "clock-too-coarse" not in ids(health(log_of(slow, 1)))


@pytest.mark.parametrize("hz", [8.0, 16.0, 20.0, 25.0, 32.0, 64.0])
def test_check_finds_it_where_ratio_refuses(hz):
    log = log_of(on_clock(hz), 5)
    recording = read_recording(lambda: [log], "test.pulses")
    refused = measure_ratio(recording, Rig(hz, 32, recording.log.header.targets)).cannot_say
    assert (refused is not None and refused.key == "coarse-clock") == ("clock-too-coarse" in ids(health(log)))


def test_a_sensor_that_bounces_twice_at_the_start_is_no_coarse_clock():
    log = b"# tick_hz: 1000000\n" + b"".join(b"f,%d\n" % t for t in (5, 7, 9, 1_000_000))
    recording = read_recording(lambda: [log], "test.pulses")
    assert coarse_steps(condition(recording.log.rows, Rig(1e6, 32))) is None


@pytest.mark.parametrize(("hz", "shown"), [(12.0, False), (128.0, True)])
def test_the_ratio_shown_while_recording_is_not_shown_either(hz, shown):
    log = log_of(on_clock(hz), 3)
    read = read_recording(lambda: [log], "test.pulses").log
    assert (ratio_so_far(read.rows, read.header) is not None) == shown
