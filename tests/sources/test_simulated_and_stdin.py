"""A simulated board keeps its scenario's time; standard input brings what is piped in and ends with it."""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from whorlpulse.logfile import read_log
from whorlpulse.simulate import scenario, simulate
from whorlpulse.sources.events import Arrived, Connected, Event, Source, SourceUnavailable
from whorlpulse.sources.simulated import SimulatedSource
from whorlpulse.sources.standard_input import StandardInput


async def all_of(source: Source) -> list[Event]:
    return [event async for event in source.events()]


def test_a_simulated_board_sends_its_scenario_in_time() -> None:
    """`steady` lasts 90 s: at 100 times the speed it takes 0.9 s, and the host's clock goes 90 s on."""
    began_s = time.monotonic()
    events = asyncio.run(all_of(SimulatedSource("steady", 100.0)))
    took_s = time.monotonic() - began_s
    assert isinstance(events[0], Connected)
    chunks = [e for e in events if isinstance(e, Arrived)]
    assert b"".join(c.data for c in chunks) == simulate(scenario("steady"), 1).log
    assert 0.85 < took_s < 2.5
    assert chunks[-1].unix_s - events[0].unix_s == pytest.approx(89.0, abs=1.0)
    for chunk in chunks:  # never early; a loaded machine may be late
        assert chunk.at_s - events[0].at_s >= (chunk.unix_s - events[0].unix_s) / 100.0 - 1e-6


def test_only_the_recording_host_ties_the_simulated_clock() -> None:
    events = asyncio.run(all_of(SimulatedSource("long-hour", 10_000.0)))
    log = b"".join(e.data for e in events if isinstance(e, Arrived))
    planned = scenario("long-hour")
    assert planned.board.sync_every_s is not None
    assert b"# sync" not in log
    assert log == simulate(replace(planned, board=replace(planned.board, sync_every_s=None)), 1).log


def test_a_recorded_simulation_has_a_clock_that_fits(tmp_path: Path) -> None:
    """`sync` lines of a log made at 60 times the speed give the board's clock as it is: true to 0.1 %."""
    log = tmp_path / "wheel.pulses"
    words = [sys.executable, "-m", "whorlpulse", "record", str(log), "--from", "sim:steady@60", "--quiet"]
    ran = subprocess.run(words, capture_output=True, text=True, check=False, timeout=20)
    assert (ran.returncode, ran.stderr) == (0, "")
    assert "simulated" in ran.stdout
    header = read_log(lambda: [log.read_bytes()]).header
    assert header.board == "simulated"
    assert len(header.syncs) == 9
    first, last = header.syncs[0], header.syncs[-1]
    rate = (last.tick - first.tick) / header.tick_hz / (last.unix_s - first.unix_s)
    assert rate == pytest.approx(1.0, abs=1e-3)


def test_time_over_counts_the_wheels_seconds(tmp_path: Path) -> None:
    log = tmp_path / "wheel.pulses"
    words = [sys.executable, "-m", "whorlpulse", "record", str(log), "--from", "sim:steady@20", "--for", "20 s"]
    ran = subprocess.run(words, capture_output=True, text=True, check=False, timeout=20)
    assert ran.returncode == 0
    last = read_log(lambda: [log.read_bytes()]).rows.tick[-1] / 1e6
    assert 17.0 < last < 24.0


def stdin_of(data: bytes, log: Path) -> subprocess.CompletedProcess[bytes]:
    words = [sys.executable, "-m", "whorlpulse", "record", str(log), "--from", "-", "--quiet"]
    return subprocess.run(words, input=data, capture_output=True, check=False, timeout=20)


def test_what_is_piped_in_is_recorded_to_its_end(tmp_path: Path) -> None:
    log = tmp_path / "wheel.pulses"
    data = b"".join(b"f,%d,%d\n" % (i, i) for i in range(20_000)) + b"f,1234"
    ran = stdin_of(data, log)
    assert (ran.returncode, ran.stderr) == (0, b"")
    written = log.read_bytes()
    body = b"".join(x for x in written.splitlines(keepends=True) if not x.startswith(b"# "))
    assert body == data


def test_nothing_piped_in_is_said(tmp_path: Path) -> None:
    ran = stdin_of(b"", tmp_path / "log")
    assert ran.returncode == 1
    assert b"nothing came" in ran.stderr
    ran = stdin_of(b"hello\nworld\n", tmp_path / "log2")
    assert ran.returncode == 1
    assert b"none is a pulse line" in ran.stderr


def test_a_plain_file_as_standard_input_is_read_too(tmp_path: Path) -> None:
    """The event loop cannot watch a plain file (epoll(7): EPERM), so a thread reads it."""
    data = b"w,1\n" * 50_000
    (tmp_path / "in").write_bytes(data)
    fd = os.open(tmp_path / "in", os.O_RDONLY)
    try:
        events = asyncio.run(all_of(StandardInput(fd)))
    finally:
        os.close(fd)
    assert b"".join(e.data for e in events if isinstance(e, Arrived)) == data


def test_a_closed_input_and_sending_are_refused() -> None:
    fd = os.open(os.devnull, os.O_WRONLY)
    try:
        with pytest.raises(SourceUnavailable, match="cannot be read"):
            asyncio.run(all_of(StandardInput(fd)))
    finally:
        os.close(fd)
    with pytest.raises(SourceUnavailable):
        asyncio.run(StandardInput(0).send(b"x"))
