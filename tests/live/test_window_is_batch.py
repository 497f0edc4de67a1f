"""Live figures over the window are those of the batch commands on a log of the same rows, for every chunking."""

from __future__ import annotations

import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).resolve().parent))

from windows import as_log, ends_of_rows, fed, window_figures

from whorlpulse.actions.measure_cadence import measure_cadence
from whorlpulse.actions.measure_ratio import measure_ratio
from whorlpulse.actions.measure_slip import measure_slip
from whorlpulse.actions.measure_twist import measure_twist
from whorlpulse.actions.recording import Recording, read_recording
from whorlpulse.cli.inputs import Given, rig_of
from whorlpulse.estimators.plan import YarnPlan
from whorlpulse.logfile import Entry
from whorlpulse.pulses import ROLLER, Rows
from whorlpulse.simulate import Board, scenario, simulate

PLAN = YarnPlan(5.2 / 0.0254)
NAMES = (
    "steady",
    "bad-line",
    "three-runs",
    "uneven-magnets",
    "skein-soft",
    "skein-marks",
    "planned-bursts",
    "coarse-clock",
)


@cache
def log_of(name: str) -> tuple[bytes, tuple[int, ...]]:
    log = simulate(scenario(name), 5).log
    return log, tuple(ends_of_rows(log).tolist())


@st.composite
def cut_logs(draw: st.DrawFn) -> tuple[bytes, list[int]]:
    """A log up to one of its rows, and where its bytes are cut in pieces."""
    log, ends = log_of(draw(st.sampled_from(NAMES)))
    end = ends[draw(st.integers(min(40, len(ends) - 1), len(ends) - 1))]
    return log[:end], draw(st.lists(st.integers(1, end), max_size=40))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(cut_logs())
def test_the_window_is_the_same_however_the_bytes_came(case: tuple[bytes, list[int]]) -> None:
    log, cuts = case
    (_, whole), (_, pieces) = window_figures(fed(log), PLAN), window_figures(fed(log, cuts), PLAN)
    assert pieces == whole
    byte_by_byte = fed(log, range(1, len(log))) if len(log) < 6000 else fed(log, range(1, len(log), 7))
    counts = fed(log)
    assert (byte_by_byte.pulses, byte_by_byte.lost, byte_by_byte.damaged) == (
        counts.pulses,
        counts.lost,
        counts.damaged,
    )
    for targets in (1, 4):
        assert byte_by_byte.wheel_per_min(targets) == counts.wheel_per_min(targets)
        assert byte_by_byte.flyer_per_min(targets) == counts.flyer_per_min(targets)
        assert byte_by_byte.wheel_angle(targets) == counts.wheel_angle(targets)


def batch(log: bytes) -> Recording:
    return read_recording(lambda: [log], "window")


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(cut_logs())
def test_the_windows_figures_are_those_of_the_commands_on_a_log_of_its_rows(case: tuple[bytes, list[int]]) -> None:
    """The measured figures are equal, not near: same rows, same functions."""
    window, live = window_figures(fed(*case), PLAN)
    recording = batch(as_log(window))
    assert recording.log.rows.tick.tolist() == window.rows.tick.tolist()
    rig, _ = rig_of(recording, Given(), needs_length=True)
    assert live.ratio == measure_ratio(recording, rig).ratio
    cadence = measure_cadence(recording, rig)
    assert live.cadence_hz == (cadence.found.mean if cadence.found is not None else None)
    assert live.profile == cadence.profile
    slip = measure_slip(recording, rig).found
    assert live.loss == (slip.slip if slip is not None else None)
    seen = [b for b in slip.bursts if window.whole or b.start_s >= 3.0] if slip is not None else []
    assert [(b.start_s, b.lost.value) for b in live.bursts] == [(window.start_s + b.start_s, b.lost) for b in seen]


@pytest.mark.parametrize(("hz", "bits"), [(8.0, 32), (14.0, 32), (40.0, 32), (1e6, 32), (1e6, 16)])
def test_a_window_is_refused_where_the_commands_refuse_its_rows(hz: float, bits: int) -> None:
    """A clock too coarse; ticks beyond the clock's stated width: the reason is the commands' own."""
    case = replace(scenario("steady"), board=Board(tick_hz=hz, start_tick=0))
    log = simulate(case, 3).log.replace(b"# tick_bits: 32", b"# tick_bits: %d" % bits)
    window, live = window_figures(fed(log))
    recording = batch(as_log(window))
    rig, _ = rig_of(recording, Given(), needs_length=False)
    said = measure_ratio(recording, rig)
    assert live.refused == said.cannot_say
    assert live.ratio == said.ratio
    assert (live.refused is None) == (hz >= 40.0 and bits == 32)


@pytest.mark.parametrize("name", ["skein-marks", "skein-soft", "continuous-take-up"])
@pytest.mark.parametrize("part", [0.15, 0.45, 0.8, 1.0])
def test_the_windows_twist_is_that_of_its_whole_take_ups(name: str, part: float) -> None:
    """Against the command on the window's rows, of which a take-up that still runs, and one half seen, are left out."""
    log, ends = log_of(name)
    window, live = window_figures(fed(log[: ends[int(part * (len(ends) - 1))]]), PLAN)
    assert live.twist is not None
    entries = list(window.header.entries)
    kept = window.rows
    if name != "skein-marks":
        last_s = window.end_s - window.start_s
        seconds = (kept.tick - kept.tick[0]) % 2**32 / window.header.tick_hz
        until = max(d.end_s for d in live.twist.draws)
        keep = (kept.channel != ROLLER) | (seconds <= until)
        assert last_s - until >= 1.0 or part == 1.0 or name == "continuous-take-up"
        kept = Rows(kept.tick[keep], kept.channel[keep])
        if not window.whole:
            begins = live.twist.draws[0].start_s
            row = int(np.searchsorted(seconds[keep], begins, side="right"))
            tick = (int(window.rows.tick[0]) + round(begins * window.header.tick_hz)) % 2**32
            entries.append(Entry(row, 0, "length", f"{tick} 0"))
        window = replace(window, rows=kept, header=replace(window.header, entries=tuple(entries)))
    recording = batch(as_log(window))
    rig, _ = rig_of(recording, Given(), needs_length=True)
    found = measure_twist(recording, rig, PLAN)
    assert found.found is not None
    assert found.found.twist == live.twist.twist
    assert found.found.draws == live.twist.draws
    assert found.verdict == live.verdict
