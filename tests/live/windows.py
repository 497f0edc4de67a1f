"""Logs cut at a row and fed in pieces, and a window written out as a log of its own for the commands to read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np

from whorlpulse.actions.live_counts import LiveCounts, WindowLog
from whorlpulse.actions.live_course import Course
from whorlpulse.actions.live_setup import RigSoFar, WheelSetup
from whorlpulse.actions.live_window import WindowFigures, measure_window
from whorlpulse.cli.inputs import Given
from whorlpulse.cli.live_rig import LiveRig, metres
from whorlpulse.cli.record import read_length
from whorlpulse.estimators.plan import YarnPlan
from whorlpulse.wire import Decoder, Pulse, encode_meta, encode_pulse


class Silent:
    """A source that is never listened to."""

    name = "silent"

    async def events(self) -> Iterator[object]:
        raise NotImplementedError

    async def send(self, data: bytes) -> None:
        raise NotImplementedError


def setup(plan: YarnPlan | None = None, given: Given | None = None) -> WheelSetup:
    """A wheel as the command makes it, but for its source and its log."""
    return WheelSetup("1", "wheel 1", Silent(), Path("none"), LiveRig(given or Given()), metres, read_length, plan=plan)


def fed(log: bytes, cuts: Sequence[int] = ()) -> LiveCounts:
    """The counts of a log that came in pieces, cut at these bytes."""
    counts = LiveCounts(read_m=lambda text: metres(text).m)
    edges = [0, *sorted(c for c in cuts if 0 < c < len(log)), len(log)]
    for k, (start, stop) in enumerate(pairwise(edges)):
        counts.take(log[start:stop], float(k), float(k))
    return counts


def window_figures(counts: LiveCounts, plan: YarnPlan | None = None) -> tuple[WindowLog, WindowFigures]:
    """The window of now, and its figures."""
    made = setup(plan)
    window = counts.window()
    assert window is not None
    rig = RigSoFar(made).of_window(counts.header, window)
    assert rig is not None
    return window, measure_window(window, rig, (), plan)


def course_of(log: bytes, plan: YarnPlan | None = None, every_s: float = 0.5) -> Iterator[tuple[float, Course]]:
    """Follow a log as live, a window every `every_s` of its own time; yield its seconds and the course so far."""
    made = setup(plan)
    counts, rigs, course = LiveCounts(read_m=lambda text: metres(text).m), RigSoFar(made), Course(plan, None)
    due_s = 0.0
    for line in log.splitlines(keepends=True):
        counts.take(line, 0.0, 0.0)
        if counts.last is None or counts.log_s < due_s:
            continue
        window = counts.window()
        assert window is not None
        due_s = counts.log_s + every_s
        rig = rigs.of_window(counts.header, window)
        assert rig is not None
        course.take(measure_window(window, rig, (), plan), counts.wheel_per_min(1))
        yield counts.log_s, course


def as_log(window: WindowLog) -> bytes:
    """The window as a log: its `#` lines in their places, its rows numbered so that lost lines are missing numbers."""
    entries = sorted(window.header.entries, key=lambda e: e.row)
    rows, lines = window.rows, []
    counts = dict(zip(rows.count_row.tolist(), rows.count_value.tolist(), strict=True))
    gaps = dict(zip(rows.gap_row.tolist(), rows.gap_lines.tolist(), strict=True))
    bits = window.header.seq_bits
    seq, next_entry = 0, 0
    for i in range(len(rows)):
        while next_entry < len(entries) and entries[next_entry].row <= i:
            lines.append(encode_meta(entries[next_entry].key, entries[next_entry].value))
            next_entry += 1
        seq += gaps.get(i, 0)
        count = counts.get(i)
        lines.append(encode_pulse(chr(rows.channel[i]), int(rows.tick[i]), seq % (1 << bits), count))
        seq += 1
    lines += [encode_meta(e.key, e.value) for e in entries[next_entry:]]
    return b"".join(lines)


def ends_of_rows(log: bytes) -> np.ndarray:
    """The byte after each pulse line of a log."""
    decoder, ends, at = Decoder(), [], 0
    for line in log.splitlines(keepends=True):
        at += len(line)
        if any(isinstance(m, Pulse) for m in decoder.feed(line)):
            ends.append(at)
    return np.array(ends)
