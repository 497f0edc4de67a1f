"""The place of the log: full, not to be written, deleted, moved or taken by another file while it is recorded."""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pty_board import PtyBoard, lines, plugged, wait_for
from recorder_process import STARTING_S, Recording, boards_bytes

from tools import missing
from whorlpulse.logfile import read_log


@contextmanager
def small_disk(place: Path, options: str) -> Iterator[Path]:
    """A file system in memory, where this user may make one."""
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)], capture_output=True, check=False
    )
    if mounted.returncode != 0:
        missing("a small file system cannot be mounted here (it takes the system's administrator)")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", str(place)], check=True)


def test_full_disk(tmp_path: Path, dice: random.Random) -> None:
    with small_disk(tmp_path / "disk", f"size={dice.choice([8, 16, 32, 64])}k") as disk:
        log = disk / "wheel.pulses"
        sent = lines(8000)
        with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
            recording.await_in_log(b"# started")
            feed_until_it_ends(board, recording, b"".join(sent))
            code, _, err = recording.end()
        written = log.read_bytes()
    assert code == 1
    assert err.count("\n") == 1
    assert "the disk is full" in err
    assert b"".join(sent).startswith(boards_bytes(written))
    assert len(read_log(lambda: [written]).rows) > 200


def feed_until_it_ends(board: PtyBoard, recording: Recording, data: bytes) -> None:
    """Send for as long as the recorder runs; a port that nobody reads any more takes nothing."""
    os.set_blocking(board.descriptor, False)
    end_s = time.monotonic() + STARTING_S
    while recording.process.poll() is None and time.monotonic() < end_s:
        try:
            data = data[os.write(board.descriptor, data[:2000]) :]
        except OSError:  # full, or let go of
            time.sleep(0.005)
    assert data, "all was taken: the disk was never full"


def test_read_only_folder(tmp_path: Path) -> None:
    if os.getuid() == 0:  # whom permissions do not stop
        with small_disk(tmp_path / "disk", "size=64k,ro") as disk:
            assert_refused_at_once(tmp_path, disk / "wheel.pulses")
    else:
        folder = tmp_path / "folder"
        folder.mkdir(mode=0o555)
        assert_refused_at_once(tmp_path, folder / "wheel.pulses")


def assert_refused_at_once(tmp_path: Path, log: Path) -> None:
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
        code, out, err = recording.end(STARTING_S)
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "cannot be written" in err
    assert not log.exists()


def test_deleted_log(tmp_path: Path, log: Path, dice: random.Random) -> None:
    """It is back within about a second, with every byte; then it is deleted once more just before the end."""
    sent = lines(900)
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
        recording.await_in_log(b"# started")
        board.say(b"".join(sent[:300]))
        recording.await_in_log(sent[299])
        log.unlink()
        if dice.random() < 0.5:
            board.say(b"".join(sent[300:600]))
            time.sleep(dice.uniform(0.0, 0.5))
        else:  # nothing is said meanwhile: the recorder looks all the same
            wait_for(log.exists, 5.0, saying="the log was not put back")
            board.say(b"".join(sent[300:600]))
        recording.await_in_log(sent[599], within_s=5.0)
        board.say(b"".join(sent[600:]))
        recording.await_in_log(sent[-1])
        log.unlink()
        code, _, err = recording.stop()
    assert (code, err) == (0, "")
    assert boards_bytes(log.read_bytes()) == b"".join(sent)
    assert log.read_bytes().startswith(b"# started: ")


def test_deleted_folder(tmp_path: Path) -> None:
    log = tmp_path / "spinning" / "wheel.pulses"
    log.parent.mkdir()
    sent = lines(200)
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
        recording.await_in_log(b"# started")
        board.say(b"".join(sent[:100]))
        recording.await_in_log(sent[99])
        shutil.rmtree(log.parent)
        board.say(b"".join(sent[100:]))
        recording.await_in_log(sent[-1], within_s=5.0)
        assert recording.stop()[0] == 0
    assert boards_bytes(log.read_bytes()) == b"".join(sent)


def test_moved_log(tmp_path: Path, log: Path) -> None:
    """The recording goes on in the file, wherever it is now."""
    sent = lines(200)
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
        recording.await_in_log(b"# started")
        board.say(b"".join(sent[:100]))
        recording.await_in_log(sent[99])
        moved = log.rename(tmp_path / "elsewhere.pulses")
        board.say(b"".join(sent[100:]))
        wait_for(lambda: moved.read_bytes().endswith(sent[-1]), 5.0, saying="it did not go on")
        assert recording.stop()[0] == 0
    assert boards_bytes(moved.read_bytes()) == b"".join(sent)
    assert not log.exists()


def test_log_whose_name_another_file_has_taken(tmp_path: Path, log: Path) -> None:
    """The other file is left alone, what was recorded is kept beside it, and the user is told."""
    sent = lines(100)
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
        recording.await_in_log(b"# started")
        board.say(b"".join(sent))
        recording.await_in_log(sent[-1])
        other = tmp_path / "other"
        other.write_bytes(b"mine\n")
        other.replace(log)
        code, _, err = recording.end(10.0)
    assert code == 1
    assert err.count("\n") == 1
    assert "wheel-kept.pulses" in err
    assert log.read_bytes() == b"mine\n"
    assert boards_bytes((tmp_path / "wheel-kept.pulses").read_bytes()) == b"".join(sent)
