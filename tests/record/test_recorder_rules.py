"""When the host's lines are written and what they say, with a source whose clocks are the test's own."""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Sequence
from itertools import pairwise
from pathlib import Path

import pytest

from whorlpulse.actions.record import Habits, Recorder
from whorlpulse.logfile import read_log
from whorlpulse.sources.events import Arrived, Connected, Event, Lost, SourceUnavailable
from whorlpulse.sources.logwriter import LogStopped, LogWriter
from whorlpulse.views.recording_line import Recording

UNIX_S = 1_700_000_000.0


class Told:
    """A source that says what the test tells it to; `holds_s`: how long it stays silent at the end."""

    name = "told"

    def __init__(self, events: Sequence[Event], *, holds_s: float = 0.0, fault: Exception | None = None) -> None:
        self._events, self._holds_s, self._fault = events, holds_s, fault
        self.sent: list[bytes] = []
        self.released = False

    async def events(self) -> AsyncIterator[Event]:
        try:
            for event in self._events:
                yield event
            await asyncio.sleep(self._holds_s)
            if self._fault is not None:
                raise self._fault
        finally:
            self.released = True

    async def send(self, data: bytes) -> None:
        self.sent.append(data)


def connected(at_s: float = 0.0, name: str = "told") -> Connected:
    return Connected(name, at_s, UNIX_S + at_s)


def bytes_at(at_s: float, data: bytes) -> Arrived:
    return Arrived(data, at_s, UNIX_S + at_s)


def lost_at(at_s: float, why: str = "gone") -> Lost:
    return Lost(why, at_s, UNIX_S + at_s)


def recorded(tmp_path: Path, source: Told, habits: Habits | None = None) -> tuple[bytes, Recording]:
    log = tmp_path / "log"
    state = asyncio.run(Recorder(source, lambda: LogWriter(log), None, habits).run(asyncio.Event()))
    return log.read_bytes(), state


def host_lines(log: bytes, key: bytes) -> list[bytes]:
    return [line[len(key) + 4 :] for line in log.split(b"\n") if line.startswith(b"# " + key + b": ")]


def test_the_clock_is_tied_every_ten_seconds_to_the_last_whole_line(tmp_path: Path) -> None:
    """A line a second for 35 s, each torn in two chunks: four ties, each to a line that had come whole."""
    events: list[Event] = [connected()]
    for s in range(36):
        line = b"k,%d\n" % (1_000_000 * s)
        events += [bytes_at(s + 0.2, line[:3]), bytes_at(s + 0.25, line[3:] + b"k,")]
        events += [bytes_at(s + 0.3, b"%d\n" % (1_000_000 * s + 50_000))]
    log, _ = recorded(tmp_path, Told(events))
    ties = [line.split() for line in host_lines(log, b"sync")]
    assert [(float(u) - UNIX_S, int(t)) for u, t in ties] == [
        (pytest.approx(s + 0.25, abs=2e-6), 1_000_000 * s) for s in (0, 10, 20, 30)
    ]
    found = read_log(lambda: [log])
    assert not found.tally.malformed, "a host's line stands between whole lines only"
    assert found.tally.keep_alives == 72


def test_after_a_loss_the_clock_is_tied_again_at_once(tmp_path: Path) -> None:
    events = [connected(), bytes_at(1, b"k,100\nw,2"), lost_at(2, "plug\npulled"), connected(5), bytes_at(6, b"k,7\n")]
    log, state = recorded(tmp_path, Told(events))
    assert state.interruptions == 1
    assert len(host_lines(log, b"sync")) == 2
    order = [line.split(b" ")[0:2] for line in log.split(b"\n") if line]
    keys = [b" ".join(words) if words[0] == b"#" else words[0] for words in order]
    assert keys == [
        b"# started:",
        b"# source:",
        b"k,100",
        b"w,2",
        b"# sync:",
        b"# lost:",
        b"# resumed:",
        b"k,7",
        b"# sync:",
    ]
    assert b"w,2 (torn)\n" in log
    assert host_lines(log, b"lost")[0].endswith(b" plug pulled")


@pytest.mark.parametrize("why", ["", " ", "x" * 5000, "a\tb: c\r\nd"])
def test_no_words_of_a_loss_stop_the_recording(tmp_path: Path, why: str) -> None:
    events = [connected(0, why), bytes_at(1, b"k,1\n"), lost_at(2, why), connected(3, why), bytes_at(4, b"k,2\n")]
    log, state = recorded(tmp_path, Told(events))
    assert state.interruptions == 1
    assert log.count(b"\n# lost: ") == log.count(b"\n# resumed: ") == 1
    assert read_log(lambda: [log]).tally.keep_alives == 2


def test_two_sensors_are_two_sources_and_one_may_be_lost(tmp_path: Path) -> None:
    one, two = connected(0, "one"), connected(1, "two")
    events = [one, two, bytes_at(2, b"k,1\n"), lost_at(3), bytes_at(3.5, b"k,2\n"), connected(4, "one")]
    log, state = recorded(tmp_path, Told(events))
    assert host_lines(log, b"source") == [b"one", b"two"]
    assert [line.split(b" ")[-1] for line in host_lines(log, b"resumed")] == [b"one"]
    assert state.connected
    assert len(host_lines(log, b"started")) == 1


def test_a_source_that_ties_its_own_clock_is_not_meddled_with(tmp_path: Path) -> None:
    events: list[Event] = [connected(), bytes_at(0.5, b"# sync: 5.0 1\nk,1\n")]
    events += [bytes_at(float(s), b"k,%d\n" % s) for s in range(2, 40)]
    log, _ = recorded(tmp_path, Told(events))
    assert host_lines(log, b"sync") == [b"5.0 1"]


def test_the_start_is_an_rfc_3339_time(tmp_path: Path) -> None:
    """1 700 000 000 s is 2023-11-14T22:13:20Z (from memory, and by date(1))."""
    from datetime import UTC, datetime

    log, _ = recorded(tmp_path, Told([connected()]))
    started = datetime.fromisoformat(host_lines(log, b"started")[0].decode())
    assert started.utcoffset() is not None
    assert started == datetime(2023, 11, 14, 22, 13, 20, tzinfo=UTC)


@pytest.mark.parametrize(("greeting", "asked"), [(b"k,1\n", [b"hello\n"]), (b"# targets: w=4\nk,1\n", [])])
def test_only_a_board_that_has_not_greeted_is_asked(tmp_path: Path, greeting: bytes, asked: list[bytes]) -> None:
    source = Told([connected(), bytes_at(0.0, greeting)], holds_s=0.5)
    recorded(tmp_path, source, Habits(ask_s=0.1))
    assert source.sent == asked


def test_a_source_that_is_not_there_makes_no_log(tmp_path: Path) -> None:
    source = Told([], fault=SourceUnavailable("it is not there"))
    with pytest.raises(SourceUnavailable, match="it is not there"):
        recorded(tmp_path, source)
    assert not (tmp_path / "log").exists()
    assert source.released


def test_a_disk_that_refuses_to_be_forced_stops_the_recording_in_time(tmp_path: Path) -> None:
    def no(_: int) -> None:
        raise OSError(28, "No space left on device")

    source = Told([connected(), bytes_at(0.0, b"k,1\n")], holds_s=5.0)
    recorder = Recorder(source, lambda: LogWriter(tmp_path / "log", sync=no), None, Habits(to_disk_s=0.05))
    began_s = time.monotonic()
    with pytest.raises(LogStopped, match="the disk is full"):
        asyncio.run(recorder.run(asyncio.Event()))
    assert time.monotonic() - began_s < 2.0
    assert source.released
    assert b"k,1\n" in (tmp_path / "log").read_bytes()


def test_a_slow_disk_keeps_no_pulse_waiting(tmp_path: Path) -> None:
    """Forcing takes 0.4 s each time; meanwhile bytes are written and counted, and the end waits for it."""
    running = []

    def slow(_: int) -> None:
        running.append(1)
        time.sleep(0.4)
        running.append(-1)

    seen: list[tuple[float, int]] = []

    class Ticking(Told):
        async def events(self) -> AsyncIterator[Event]:
            yield connected()
            for i in range(48):  # ends while the file is being forced
                await asyncio.sleep(0.02)
                yield bytes_at(0.02 * i, b"k,%d\n" % i)
                seen.append((time.monotonic(), (tmp_path / "log").read_bytes().count(b"\nk,")))

    recorder = Recorder(Ticking([]), lambda: LogWriter(tmp_path / "log", sync=slow), None, Habits(to_disk_s=0.05))
    asyncio.run(recorder.run(asyncio.Event()))
    assert [count for _, count in seen] == list(range(1, 49))
    assert max(b - a for (a, _), (b, _) in pairwise(seen)) < 0.3
    at_once = [sum(running[: i + 1]) for i in range(len(running))]
    assert max(at_once) == 1, "the file is forced and closed only when no other forcing runs"
    assert at_once[-1] == 0
    assert len(running) >= 4
