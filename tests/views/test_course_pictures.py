"""The courses that the pictures show, against the simulated truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from whorlpulse.actions.measure_cadence import measure_cadence
from whorlpulse.actions.measure_slip import measure_slip
from whorlpulse.actions.recording import read_recording
from whorlpulse.actions.turn_by_turn import cadence_along, loss_along, ratio_along
from whorlpulse.cli.inputs import Given, rig_of
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.slip_reference import Reference
from whorlpulse.estimators.turn_by_turn import Course
from whorlpulse.estimators.twist import Window
from whorlpulse.findings.report import TwistReport
from whorlpulse.simulate import scenario, simulate
from whorlpulse.simulate.band import SlipBurst
from whorlpulse.views.course_pictures import cadence_picture, ratio_picture, slip_picture, twist_picture
from whorlpulse.views.terminal_pictures import Pen

BURSTS_S = (22.0, 34.0, 47.0, 58.0, 71.0)


def read(case, seed=3):
    capture = simulate(case, seed)
    recording = read_recording(lambda: [capture.log], "log.pulses")
    return capture.truth, recording, rig_of(recording, Given(), needs_length=False)[0]


@pytest.fixture(scope="module")
def slack():
    base = scenario("steady")
    bursts = tuple(SlipBurst(at_s, 0.6) for at_s in BURSTS_S)
    return read(replace(base, band=replace(base.band, bursts=bursts)))


@pytest.fixture(scope="module")
def whorls():
    return read(scenario("three-whorls"))


def test_the_ratio_of_a_turn_is_the_shafts_own(whorls):
    truth, recording, rig = whorls
    courses = ratio_along(recording, rig)
    assert len(courses) == 3
    for course in courses:
        half = 0.5 * np.gradient(course.t_s)
        flyer = truth.flyer_turns_at(course.t_s + half) - truth.flyer_turns_at(course.t_s - half)
        wheel = truth.wheel_turns_at(course.t_s + half) - truth.wheel_turns_at(course.t_s - half)
        # Half a wheel turn of difference in where it is looked at, and creep that changes within a turn.
        assert course.value == pytest.approx(flyer / wheel, rel=3e-3)
        assert course.turns.tolist() == [1.0] * len(course.turns)


def test_the_loss_climbs_by_what_was_lost(slack):
    truth, recording, rig = slack
    (run,) = truth.runs
    known = [Reference(Measured(run.no_slip_ratio, 1e-4), "given")]
    report = measure_slip(recording, rig, known)
    (course,) = loss_along(recording, rig, report.found)
    # Over the same turns: what was due at the no-slip ratio less what the flyer made.
    start, end = report.found.ratio.runs[0].start_s, report.found.ratio.runs[0].end_s
    wheel = float(truth.wheel_turns_at(end) - truth.wheel_turns_at(start))
    flyer = float(truth.flyer_turns_at(end) - truth.flyer_turns_at(start))
    assert course.value[-1] == pytest.approx(run.no_slip_ratio * wheel - flyer, abs=0.03)
    for burst in truth.bursts:
        before, after = (course.value[np.searchsorted(course.t_s, burst.start_s + d)] for d in (-2.5, 2.5))
        # Six turns of creep at half a per cent of 8.5 turns lie between them too.
        assert after - before == pytest.approx(burst.lost_turns, abs=0.3)


def test_losses_add_up_over_the_runs(whorls):
    truth, recording, rig = whorls
    known = [Reference(Measured(r.no_slip_ratio, 1e-4), "other-capture") for r in truth.runs]
    found = measure_slip(recording, rig, known).found
    courses, due = loss_along(recording, rig, found), 0.0
    for course, run, said in zip(courses, truth.runs, found.ratio.runs, strict=True):
        ends = np.array([said.start_s, said.end_s])
        wheel, flyer = (float(np.diff(turns(ends))[0]) for turns in (truth.wheel_turns_at, truth.flyer_turns_at))
        due += run.no_slip_ratio * wheel - flyer
        assert course.value[-1] == pytest.approx(due, abs=0.05)


def test_the_cadence_is_the_wheels(whorls):
    truth, recording, rig = whorls
    courses = cadence_along(recording, rig)
    for course in courses:
        half = 0.5 / course.value
        made = truth.wheel_turns_at(course.t_s + half) - truth.wheel_turns_at(course.t_s - half)
        assert made == pytest.approx(np.ones(len(made)), abs=0.01)  # the board's clock is off by up to 0.5 %


def marks(shown: str) -> list[int]:
    (line,) = [line for line in shown.splitlines() if set(line.strip()) <= {"▲", " "} and line.strip()]
    return [i for i, c in enumerate(line) if c == "▲"]


def test_each_burst_has_its_mark_at_its_place(slack):
    _, recording, rig = slack
    report = measure_slip(recording, rig, [Reference(Measured(8.4711, 1e-3), "given")])
    losses = loss_along(recording, rig, report.found)
    shown = slip_picture(report, losses, Pen(80))
    places = marks(shown)
    left = shown.splitlines()[1].index("┤") + 1
    first, last = losses[0].t_s[0], losses[0].t_s[-1]
    columns = 80 - 6 - (left - 4)
    expected = [left + (at - first) / (last - first) * columns for at in BURSTS_S]
    assert places == pytest.approx(expected, abs=1.0)
    assert "bursts" in shown
    assert "creep" in shown


def test_pictures_have_their_ends_and_levels(whorls):
    truth, recording, rig = whorls
    shown = ratio_picture(ratio_along(recording, rig), Pen(80))
    assert f"{max(r.ratio for r in truth.runs):.1f} ┤" in shown
    assert f"{min(r.ratio for r in truth.runs):.1f} ┤" in shown
    shown = cadence_picture(measure_cadence(recording, rig), cadence_along(recording, rig), Pen(40))
    assert max(map(len, shown.splitlines())) < 40


def test_too_few_turns_have_no_picture(whorls):
    _, recording, rig = whorls
    few = [Course(c.begin_s[:2], c.end_s[:2], c.value[:2], c.turns[:2]) for c in ratio_along(recording, rig)]
    assert ratio_picture(few, Pen(80)) is None
    assert ratio_picture([], Pen(80)) is None


class Found:
    """As much of a twist estimate as the picture looks at."""

    def __init__(self, twists):
        self.along = tuple(Window(float(i), i + 1.0, t) for i, t in enumerate(twists))


def test_only_a_yarn_with_more_windows_than_the_profile_has_lines_gets_a_picture():
    assert twist_picture(TwistReport("x", Found([200.0] * 16)), Pen(80)) is None
    shown = twist_picture(TwistReport("x", Found([200.0] * 20 + [100.0] + [200.0] * 20)), Pen(80))
    assert "2.5 ┤" in shown.splitlines()[-2]  # 100 turns a metre, on the lowest line
    assert shown.splitlines()[-1].endswith("41.0 m")
