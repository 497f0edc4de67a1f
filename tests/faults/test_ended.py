"""A recording ended in every way that a person or a system ends a program."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from pty_board import lines, plugged
from recorder_process import Recording, boards_bytes

from whorlpulse.logfile import read_log
from whorlpulse.pulses import FLYER

TORN = b"f,99999999"


def test_kill_9_at_a_random_moment(tmp_path: Path, log: Path, dice: random.Random) -> None:
    """At most the last second is missing, and what is there reads as it was sent."""
    sent_at_s: list[float] = []
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
        recording.await_in_log(b"# started")
        end_s = time.monotonic() + dice.uniform(0.02, 0.8)
        while time.monotonic() < end_s:
            board.say(lines(1, len(sent_at_s))[0])
            sent_at_s.append(time.monotonic())
            time.sleep(dice.uniform(0.0, 0.004))
        recording.process.kill()
        killed_s = time.monotonic()
        recording.process.wait(timeout=10)
    found = read_log(lambda: [log.read_bytes()])
    assert (found.tally.malformed_lines, found.tally.bad_checksum) == (0, 0)
    ticks = [int(t) for t in found.rows.tick[found.rows.channel == FLYER]]
    assert ticks == [1000 * k for k in range(len(ticks))]
    missing = sent_at_s[len(ticks) :]
    assert not missing or killed_s - missing[0] <= 1.0


def test_sigterm(tmp_path: Path, log: Path, dice: random.Random) -> None:
    sent = b"".join(lines(dice.randrange(1, 400))) + TORN
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
        recording.await_in_log(b"# started")
        board.say(sent)
        recording.await_in_log(TORN)
        code, out, err = recording.stop(signal.SIGTERM)
    assert (code, err) == (0, "")
    assert "recorded" in out
    # a line of the host's that waited for the torn one's end is written all the same, and the torn one is marked
    assert boards_bytes(log.read_bytes()) in (sent, sent + b" (torn)\n")


def test_sigint_twice(tmp_path: Path, log: Path, dice: random.Random) -> None:
    """The second comes anywhere between the first and the program's last breath; the end is the same."""
    sent = b"".join(lines(200)) + TORN
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
        recording.await_in_log(b"# started")
        board.say(sent)
        recording.await_in_log(TORN)
        recording.process.send_signal(signal.SIGINT)
        time.sleep(dice.choice([0.0, 0.001, 0.01, 0.05, 0.2]) * dice.random())
        code, out, err = recording.stop(signal.SIGINT)
    assert (code, err) == (0, "")
    assert "200 of the flyer" in out
    # a line of the host's that waited for the torn one's end is written all the same, and the torn one is marked
    assert boards_bytes(log.read_bytes()) in (sent, sent + b" (torn)\n")


def test_sigint_while_it_is_still_being_loaded(tmp_path: Path, dice: random.Random) -> None:
    """From the program's first line on; before that it is the interpreter's own affair."""
    begin = (
        "import os, signal, threading, sys\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # a job in the background inherits it ignored
        "from whorlpulse.cli import main\n"
        "threading.Timer(float(sys.argv.pop(1)), os.kill, (os.getpid(), signal.SIGINT)).start()\n"
        "main()\n"
    )
    words = [str(dice.uniform(0.0, 0.5)), "record", str(tmp_path / "log"), "--from", "sim:steady"]
    ran = subprocess.run([sys.executable, "-c", begin, *words], capture_output=True, text=True, check=False, timeout=30)
    assert ran.returncode in (0, 1, 130), ran.stderr
    assert "Traceback" not in ran.stderr
    assert ran.stderr.count("\n") <= 1


LATE_IMPORT = """
import importlib.abc, os, signal, sys, time
signal.signal(signal.SIGINT, signal.default_int_handler)
class Astray(importlib.abc.MetaPathFinder):
    def find_spec(self, name, path, target=None):
        if name == {module!r}:
            class Dropped:
                def __del__(self):
                    os.kill(os.getpid(), signal.SIGINT)
                    time.sleep(0.05)
            Dropped()
sys.meta_path.insert(0, Astray())
from whorlpulse.cli import main
main()
"""


@pytest.mark.parametrize("module", ["typer", "whorlpulse.cli.app", "numpy", "whorlpulse.sources.logwriter"])
@pytest.mark.parametrize("command", ["record", "live"])
def test_sigint_that_goes_astray_while_it_is_being_loaded(tmp_path: Path, command: str, module: str) -> None:
    """Where Python throws the exception away (here in a finalizer), the command ends all the same and says nothing."""
    log = str(tmp_path / "log")
    words = [command, "--from", "sim:steady", *(["--record", log, "--port", "0"] if command == "live" else [log])]
    begin = [sys.executable, "-c", LATE_IMPORT.format(module=module), *words]
    ran = subprocess.run(begin, capture_output=True, text=True, check=False, timeout=30)
    assert (ran.returncode, ran.stdout, ran.stderr) == (130, "", "")
    assert not Path(log).exists()
