"""Whatever ends a recording, the log is there and can be read: real processes, real signals, real full disks.

With WHORLPULSE_FULL=1 in the environment the numbers are those of the project's bars (50 kills, 100 replugs);
without it fewer, so that the run stays short.
"""

from __future__ import annotations

import os
import random
import resource
import signal
import subprocess
import sys
import threading
import time
from contextlib import ExitStack
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from pty_board import PtyBoard, lines, plugged
from recorder_process import STARTING_S, Recording, boards_bytes, segments

from tools import missing
from whorlpulse.logfile import read_log
from whorlpulse.pulses import FLYER
from whorlpulse.wire import Damaged, Decoder, Pulse

FULL = os.environ.get("WHORLPULSE_FULL", "") not in ("", "0")
REPLUGS = 100
KILLS, TOGETHER = (50, 10) if FULL else (6, 6)

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals and pseudo-terminals are POSIX's")


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return tmp_path / "wheel.pulses"


def damaged(log: bytes) -> list[Damaged]:
    decoder = Decoder()
    return [m for m in decoder.feed(log) + decoder.finish() if isinstance(m, Damaged)]


@pytest.mark.parametrize("by", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_recording_that_is_stopped_has_every_byte(tmp_path: Path, log: Path, by: int) -> None:
    sent = b"1,115200*0D\n# format: pulses 1\n" + b"".join(lines(300)) + b"f,9999"
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
        recording.await_in_log(b"# started")
        board.say(sent)
        recording.await_in_log(b"f,9999")
        code, out, err = recording.stop(by)
    assert (code, err) == (0, "")
    assert "300 of the flyer" in out
    assert boards_bytes(log.read_bytes()) == sent
    assert log.read_bytes().startswith(b"# started: ")


def test_a_plug_pulled_a_hundred_times_costs_no_byte(tmp_path: Path, log: Path) -> None:
    """Each time the board sends whole lines and a torn one; it is pulled when all of it has been read.

    What a port still holds when it vanishes is gone with it, on a pseudo-terminal as on a USB adapter: the board's
    line numbers show that. So each pull waits until the host has taken everything.
    """
    dice = random.Random(11)
    board = PtyBoard(tmp_path / "port")
    board.plug()
    sent: list[bytes] = []
    n = 0
    with Recording(log, f"serial:{board.path}", "--quiet") as recording:
        recording.await_in_log(b"# started")
        for cycle in range(REPLUGS):
            if cycle:
                board.plug()
                recording.await_in_log(b"# resumed", cycle, within_s=5.0)
            more = dice.randrange(1, 30)
            data = b"".join(lines(more, n))
            n += more
            torn = lines(1, n)[0]
            data += torn[: dice.randrange(len(torn))]
            board.say(data)
            sent.append(data)
            recording.await_segment(data, within_s=1.1)
            board.pull()
            recording.await_in_log(b"# lost", cycle + 1, within_s=5.0)
        code, _, err = recording.stop()
    assert (code, err) == (0, "")
    found = segments(log.read_bytes())
    assert len(found) == REPLUGS + 1
    assert found.pop() == b""
    for data, segment in zip(sent, found, strict=True):
        assert segment.startswith(data)
        assert segment[len(data) :] in (b"", b"\n", b" (torn)\n")
    pulses = [m.tick for m in Decoder().feed(log.read_bytes()) if isinstance(m, Pulse)]
    assert pulses == [1000 * i for i in range(n)], "torn lines neither add nor hide a pulse"


def test_kill_9_at_any_moment_leaves_a_readable_log(tmp_path: Path) -> None:
    """Recorders are killed while pulses come in at 100 a second each; at most the last second may be missing."""
    dice = random.Random(5)
    worst_s = 0.0
    for start in range(0, KILLS, TOGETHER):
        with ExitStack() as stack:
            boards = [stack.enter_context(plugged(tmp_path / f"port{start + i}")) for i in range(TOGETHER)]
            recordings = [
                stack.enter_context(Recording(tmp_path / f"{start + i}.pulses", f"serial:{b.path}", "--quiet"))
                for i, b in enumerate(boards)
            ]
            for recording in recordings:
                recording.await_in_log(b"# started", within_s=30.0)
            began_s = time.monotonic()
            killed_at_s = [began_s + dice.uniform(0.05, 1.2) for _ in boards]
            sent_at_s: list[list[float]] = [[] for _ in boards]
            while time.monotonic() < max(killed_at_s) + 0.01:
                for i, board in enumerate(boards):
                    if recordings[i].process.poll() is not None:
                        continue
                    board.say(lines(1, len(sent_at_s[i]))[0])
                    sent_at_s[i].append(time.monotonic())
                    if sent_at_s[i][-1] >= killed_at_s[i]:  # right after a line: it may be on its way
                        recordings[i].process.kill()
                        killed_at_s[i] = time.monotonic()
                        recordings[i].process.wait(timeout=5)
                time.sleep(0.01)
            for i, recording in enumerate(recordings):
                ticks = readable(recording.written())
                assert ticks == [1000 * k for k in range(len(ticks))]
                gone = sent_at_s[i][len(ticks) :]
                worst_s = max([worst_s] + [killed_at_s[i] - at for at in gone])
    print(f"{KILLS} kills: at most the last {1000 * worst_s:.1f} ms are missing")
    assert worst_s <= 1.0


def readable(log: bytes) -> list[int]:
    """Return the flyer's ticks as the project's own reader sees them; nothing but a torn last line may be wrong."""
    found = read_log(lambda: [log])
    assert not found.tally.malformed
    assert not found.tally.bad_checksum
    assert found.header.started is not None
    return [int(t) for t in found.rows.tick[found.rows.channel == FLYER]]


def test_a_file_that_may_not_grow_ends_with_one_clear_line(tmp_path: Path, log: Path) -> None:
    limit = 8192

    def small_files() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}", before=small_files) as recording:
        recording.await_in_log(b"# started")
        code, err = feed_until_it_ends(board, recording)
    assert code == 1
    assert err.count("\n") == 1
    assert "the disk is full" in err
    assert log.stat().st_size == limit
    ticks = readable(log.read_bytes())
    assert ticks == [1000 * k for k in range(len(ticks))]
    assert len(ticks) > 300


def test_a_full_disk_ends_with_one_clear_line(tmp_path: Path) -> None:
    """On a file system in memory of 64 kB, where this user may make one."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if mounted.returncode != 0:
        missing("a small file system cannot be mounted here (it takes the system's administrator)")
    try:
        log = disk / "wheel.pulses"
        with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
            recording.await_in_log(b"# started")
            code, err = feed_until_it_ends(board, recording)
        assert code == 1
        assert err.count("\n") == 1
        assert "the disk is full" in err
        ticks = readable(log.read_bytes())
        assert ticks == [1000 * k for k in range(len(ticks))]
        assert log.stat().st_size == 65536
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def feed_until_it_ends(board: PtyBoard, recording: Recording) -> tuple[int, str]:
    """Send lines until the recorder ends by itself; return its exit code and standard error."""
    n, end_s = 0, time.monotonic() + 10.0
    while recording.process.poll() is None and time.monotonic() < end_s:
        board.say(b"".join(lines(20, n)))
        n += 20
        time.sleep(0.005)
    code, _, err = recording.end()
    return code, err


def test_a_display_that_stands_still_stops_no_pulse(tmp_path: Path, log: Path) -> None:
    """Standard error is a pipe that nobody reads and that is full: the recording must go on, and end."""
    reader, writer = os.pipe()
    os.set_blocking(writer, False)
    try:
        while True:
            os.write(writer, b"x" * 4096)
    except BlockingIOError:
        os.set_blocking(writer, True)
    try:
        with (
            plugged(tmp_path / "port") as board,
            Recording(log, f"serial:{board.path}", stderr=writer) as recording,
        ):
            recording.await_in_log(b"# started")
            board.say(b"".join(lines(50)))
            time.sleep(0.3)
            board.say(b"".join(lines(50, 50)))
            recording.await_in_log(lines(1, 99)[0], within_s=2.0)
            code, out, _ = recording.stop()
        assert code == 0
        assert "100 of the flyer" in out
    finally:
        os.close(reader)
        os.close(writer)


def test_a_second_recorder_on_the_port_is_refused_and_costs_nothing(tmp_path: Path, log: Path) -> None:
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as first:
        first.await_in_log(b"# started")
        with Recording(tmp_path / "second.pulses", f"serial:{board.path}") as second:
            code, out, err = second.end(STARTING_S)
        assert (code, out) == (2, "")
        assert "in use by another program" in err
        assert err.count("\n") == 1
        assert not (tmp_path / "second.pulses").exists()
        board.say(b"".join(lines(5)))
        first.await_in_log(lines(1, 4)[0])
        assert first.stop()[0] == 0


def test_a_log_is_replaced_only_when_asked_and_only_by_a_source_that_is_there(tmp_path: Path, log: Path) -> None:
    log.write_bytes(b"precious\n")
    for options, says in (((), "exists already"), (("--replace",), "is not there")):
        with Recording(log, f"serial:{tmp_path / 'nothing'}", *options) as recording:
            code, _, err = recording.end(STARTING_S)
        assert (code, says in err, err.count("\n")) == (2, True, 1)
        assert log.read_bytes() == b"precious\n"
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}", "--replace") as recording:
        recording.await_in_log(b"# started")
        board.say(b"".join(lines(3)))
        recording.await_in_log(lines(1, 2)[0])
        assert recording.stop()[0] == 0
    assert b"precious" not in log.read_bytes()


def test_a_board_that_says_nothing_is_said_to_say_nothing(tmp_path: Path, log: Path) -> None:
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}", "--for", "0.3 s") as recording:
        code, out, err = recording.end(STARTING_S)
    assert (code, out) == (1, "")
    assert "nothing came" in err


def test_a_silent_board_is_asked_what_it_is(tmp_path: Path, log: Path) -> None:
    """A host that joins later has missed the greeting: the protocol's `hello` asks for it."""
    heard: list[bytes] = []
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
        recording.await_in_log(b"# started")
        done = threading.Event()

        def talk() -> None:
            n = 0
            while not done.wait(0.05):
                board.say(lines(1, n)[0])
                heard.append(board.heard())
                if b"hello\n" in heard:
                    board.say(b"# format: pulses 1\n# targets: w=4 f=2\n")
                    return
                n += 1

        talking = threading.Thread(target=talk, daemon=True)
        talking.start()
        recording.await_in_log(b"# targets: w=4 f=2\n", within_s=6.0)
        done.set()
        talking.join()
        assert recording.stop()[0] == 0
    assert b"".join(heard) == b"hello\n"
