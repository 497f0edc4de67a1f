"""How soon a pulse is on the disk and in the figures, and what that costs: measured, against the project's bars.

The board is a process of its own (`feeder.py`): 500 lines a second, one at a time, each with the moment of its
writing as its tick, so that the delay can be told where it arrives.
"""

from __future__ import annotations

import asyncio
import os
import pty
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from recorder_process import Recording

from whorlpulse.actions.live_figures import LiveFigures
from whorlpulse.actions.record import Habits, Recorder
from whorlpulse.sources.logwriter import LogWriter
from whorlpulse.sources.serial import open_serial
from whorlpulse.views.recording_line import Recording as State
from whorlpulse.wire import Pulse

RATE = 500
SECONDS = 3
pytestmark = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processor time is read from /proc")


class Feeder:
    """The board's process, ready to send once `start` is called."""

    def __init__(self, seconds: int) -> None:
        words = [sys.executable, str(Path(__file__).with_name("feeder.py")), str(RATE), str(seconds)]
        self.process = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.port = self.process.stdout.readline().strip()

    def start(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write("\n")
        self.process.stdin.flush()


@pytest.fixture
def feeder(request: pytest.FixtureRequest) -> Iterator[Feeder]:
    found = Feeder(request.param)
    yield found
    found.process.kill()
    found.process.communicate()


class TimedFigures(LiveFigures):
    """The recorder's own figures, which also note how old each pulse is when it is decoded."""

    def __init__(self) -> None:
        super().__init__()
        self.sent_s: list[float] = []
        self.decoded_s: list[float] = []

    def _pulse(self, pulse: Pulse, at_s: float, unix_s: float) -> None:
        self.sent_s.append(pulse.tick / 1e6)
        self.decoded_s.append(time.monotonic())
        super()._pulse(pulse, at_s, unix_s)


@pytest.mark.parametrize("feeder", [SECONDS], indirect=True)
def test_a_pulse_is_soon_in_the_figures_and_on_the_disk(tmp_path: Path, feeder: Feeder) -> None:
    """With the display and the ratio so far running, as at a terminal."""
    figures = TimedFigures()
    synced: list[tuple[float, float]] = []
    shown: list[tuple[float, int]] = []

    def sync(fd: int) -> None:
        began_s = time.monotonic()
        os.fsync(fd)
        synced.append((began_s, time.monotonic()))

    def show(state: State) -> None:
        shown.append((time.monotonic(), sum(state.pulses.values())))

    async def run() -> None:
        recorder = Recorder(
            open_serial(feeder.port),
            lambda: LogWriter(tmp_path / "log", sync=sync),
            show,
            Habits(for_s=SECONDS + 1.5),
            figures,
        )
        asyncio.get_running_loop().call_later(0.3, feeder.start)
        await recorder.run(asyncio.Event())

    asyncio.run(run())
    sent, decoded = np.array(figures.sent_s), np.array(figures.decoded_s)
    assert len(sent) == RATE * SECONDS

    to_event_ms = 1e3 * (decoded - sent)
    began = np.array([b for b, _ in synced])
    first = np.searchsorted(began, decoded)  # the first forcing that began after the line was written
    assert first.max() < len(synced), "the last pulses were never forced onto the disk"
    to_disk_s = np.array([e for _, e in synced])[first] - sent
    counts = np.array([c for _, c in shown])
    to_state_ms = 1e3 * (np.array([t for t, _ in shown])[np.searchsorted(counts, np.arange(1, len(sent) + 1))] - sent)
    print(
        f"\nwritten to the port until decoded: p50 {np.median(to_event_ms):.2f} ms, "
        f"p99 {np.percentile(to_event_ms, 99):.2f} ms, most {to_event_ms.max():.1f} ms; "
        f"until the state handed to the display has it: p99 {np.percentile(to_state_ms, 99):.0f} ms; "
        f"until forced onto the disk: most {to_disk_s.max():.3f} s"
    )
    assert np.percentile(to_event_ms, 99) <= 50
    assert to_disk_s.max() <= 1.1
    assert np.percentile(to_state_ms, 99) <= 150  # drawn ten times a second, and the bar's 50 ms


@pytest.mark.parametrize("feeder", [10], indirect=True)
def test_recording_takes_little_of_a_processor(tmp_path: Path, feeder: Feeder) -> None:
    """The whole command with its live line on a terminal, once it has begun; user and system time of its process."""
    screen, terminal = pty.openpty()
    drawn: list[bytes] = []

    def watch() -> None:
        try:
            while data := os.read(screen, 4096):
                drawn.append(data)
        except OSError:
            return

    watching = threading.Thread(target=watch, daemon=True)
    watching.start()
    with Recording(tmp_path / "log", f"serial:{feeder.port}", stderr=terminal) as recording:
        os.close(terminal)
        recording.await_in_log(b"# started")
        feeder.start()
        recording.await_in_log(b"\nf,")
        # the engine for the ratio is loaded once, after two seconds: that is part of starting
        until(lambda: b"ratio" in b"".join(drawn), 6.0)
        began_s, used_s, lines = time.monotonic(), recording.processor_s(), recording.written().count(b"\n")
        time.sleep(3.0)
        took_s = time.monotonic() - began_s
        share = (recording.processor_s() - used_s) / took_s
        came = recording.written().count(b"\n") - lines
        code, _, _ = recording.stop()
    watching.join(timeout=2.0)
    os.close(screen)
    assert code == 0
    print(f"\n{100 * share:.1f} % of one core at {RATE} pulses/s, with the live line")
    assert came >= 0.98 * RATE * took_s, "the board was not that fast"
    assert share <= 0.10
    assert "turns/min" in b"".join(drawn).decode()


def until(what: Callable[[], bool], within_s: float) -> None:
    end_s = time.monotonic() + within_s
    while not what():
        assert time.monotonic() < end_s
        time.sleep(0.02)
