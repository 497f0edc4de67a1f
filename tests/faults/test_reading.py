"""Logs that are huge, come through a pipe, or grow while they are read."""

from __future__ import annotations

import json
import os
import random
import resource
import subprocess
import sys
import threading
import time
from pathlib import Path

from pty_board import plugged
from recorder_process import Recording
from spun import GREETING, assert_true_ratio, ratio_of, spun, whorlpulse

from whorlpulse.sources.log_size import BYTES_A_LINE

FULL = os.environ.get("WHORLPULSE_FULL", "") not in ("", "0")
HUGE_BYTES = 5 << 30 if FULL else 256 << 20
MOST_RESIDENT_KB = 200_000


def test_a_huge_log_with_a_hole(log: Path) -> None:
    """A disk fault, say: good lines, then zeros for gigabytes. The lines are measured in the memory of a small log."""
    log.write_bytes(GREETING + b"".join(spun(60)))
    os.truncate(log, HUGE_BYTES)
    watched = (
        "import re, sys\n"
        "from pathlib import Path\n"
        "from whorlpulse.cli.exits import run\n"
        "code = run(sys.argv[1:])\n"
        "status = Path('/proc/self/status').read_text()\n"  # what getrusage says includes the process that forked
        "print(re.search('VmHWM:[^0-9]*([0-9]+)', status)[1], file=sys.stderr)\n"
        "sys.exit(code)\n"
    )
    words = [sys.executable, "-c", watched, "ratio", str(log), "--json"]
    ran = subprocess.run(words, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    said = json.loads(ran.stdout)
    assert_true_ratio(said)
    assert any("Damaged lines left out: 1" in note for note in said["notes"])
    assert int(ran.stderr) <= MOST_RESIDENT_KB


def test_a_log_of_more_lines_than_memory_holds(tmp_path: Path) -> None:
    """Refused in one line before the memory is used up; here the process may have only so much of it."""
    allowed = 1_400_000_000
    many = allowed // BYTES_A_LINE + 100_000

    def little_memory() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (allowed, allowed))

    environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
    words = [sys.executable, "-m", "whorlpulse", "ratio", "-"]
    reading = subprocess.Popen(
        words,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=little_memory,
        env=environment,
    )
    assert reading.stdin is not None
    piece = b"w,7\n" * 100_000
    try:
        for _ in range(many // 100_000 + 1):
            reading.stdin.write(piece)
    except BrokenPipeError:  # it has seen enough
        pass
    out, err = reading.communicate(timeout=120)
    assert (reading.returncode, out) == (2, b"")
    assert err.count(b"\n") == 1
    assert b"more than this computer's memory can measure" in err


def test_a_log_on_a_pipe(tmp_path: Path, log: Path, dice: random.Random) -> None:
    """It comes in pieces, with rests, and ends in the middle of a line: the answer is that of the file."""
    whole = GREETING + b"".join(spun(dice.uniform(30, 90))) + b"f,12"
    log.write_bytes(whole)
    wanted = ratio_of(log)
    named = tmp_path / "pipe"
    os.mkfifo(named)

    def send() -> None:
        with named.open("wb", buffering=0) as pipe:
            at = 0
            while at < len(whole):
                at += pipe.write(whole[at : at + dice.randrange(1, 4000)])
                time.sleep(dice.uniform(0.0, 0.01))

    sending = threading.Thread(target=send)
    sending.start()
    said = ratio_of(named)
    sending.join()
    assert_true_ratio(said)
    assert {**said, "capture": ""} == {**wanted, "capture": ""}
    assert any("torn" in note for note in said["notes"])


def test_a_log_that_grows_while_it_is_read(tmp_path: Path, log: Path, dice: random.Random) -> None:
    """Each answer is that of some beginning of the log; it is never refused and never wrong."""
    sent = spun(400)
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}", "--quiet") as recording:
        recording.await_in_log(b"# started")
        board.say(GREETING + b"".join(sent[:600]))
        recording.await_in_log(sent[599])
        over = threading.Event()

        def go_on() -> None:
            at = 600
            while at < len(sent) and not over.is_set():
                more = dice.randrange(1, 9)
                board.say(b"".join(sent[at : at + more]))
                at += more
                time.sleep(0.002)

        going = threading.Thread(target=go_on)
        going.start()
        answers = [ratio_of(log) for _ in range(2)]
        checked = whorlpulse("check", log, "--json")
        over.set()
        going.join()
        assert recording.stop()[0] == 0
    for said in answers:
        assert_true_ratio(said)
    turns = [said["wheel_turns"] for said in answers]
    assert 50 < turns[0] <= turns[1] <= 600
    assert checked.returncode == 0, checked.stderr
    lines = json.loads(checked.stdout)["lines"]
    assert (lines["malformed"], lines["bad_checksum"], lines["lost"]) == (0, 0, 0)
