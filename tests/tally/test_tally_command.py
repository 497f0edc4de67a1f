"""`whorlpulse tally` as it is typed, and tapped at a pseudo-terminal."""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import sys
import time

import pytest

from whorlpulse.logfile import read_log

COMMAND = [sys.executable, "-m", "whorlpulse", "tally"]


def typed(*words):
    return subprocess.run([*COMMAND, *words], capture_output=True, text=True, stdin=subprocess.DEVNULL, timeout=60)


def test_counts_in_words():
    done = typed("--wheel-turns", "20", "--flyer-turns", "124")
    assert done.returncode == 0
    assert "6.2 : 1  ± 0.3" in done.stdout.replace("+-", "±")
    assert "60 more wheel turns" in " ".join(done.stdout.split())
    assert done.stderr == ""


def test_counts_as_json():
    said = json.loads(
        typed(
            *("--wheel-turns", "20", "--flyer-turns", "124", "--wheel-turns", "10.5", "--flyer-turns", "65"),
            *("--half", "--json"),
        ).stdout
    )
    assert {
        "schema",
        "capture",
        "notes",
        "ratio",
        "wheel_turns",
        "flyer_turns",
        "more_wheel_turns_for_1_percent",
    } <= set(said)
    assert said["capture"] is None
    assert (said["wheel_turns"], said["flyer_turns"]) == (30.5, 189)
    assert said["ratio"]["value"] == pytest.approx(189 / 30.5)
    assert said["ratio"]["low"] < said["ratio"]["value"] < said["ratio"]["high"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--wheel-turns", "20"], "in pairs"),
        (["--wheel-turns", "20", "--flyer-turns", "0"], "above 0"),
        (["--wheel-turns", "20", "--flyer-turns", "nan"], "above 0"),
        (["--wheel-turns", "20.5", "--flyer-turns", "124"], "--half"),
        (["--wheel-turns", "20.3", "--flyer-turns", "124", "--half"], "only whole and half turns"),
        (["--wheel-turns", "many", "--flyer-turns", "124"], "--wheel-turns"),
        (["--wheel-turns", "20", "--flyer-turns", "124", "-o", "x.pulses"], "no log to save"),
        (["--half"], "go with counted turns"),
        ([], "needs a terminal"),
    ],
)
def test_misuse_is_one_line_and_exit_2(words, says):
    done = typed(*words)
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert says in done.stderr


class Terminal:
    """`whorlpulse tally` at a pseudo-terminal, which stays open until `end`; standard output goes to a pipe."""

    def __init__(self, *words):
        self.master, self.slave = os.openpty()
        slave = self.slave

        def become_foreground():
            os.setsid()
            import fcntl
            import termios

            fcntl.ioctl(slave, termios.TIOCSCTTY, 0)

        self.process = subprocess.Popen(
            [*COMMAND, *words],
            stdin=slave,
            stderr=slave,
            stdout=subprocess.PIPE,
            preexec_fn=become_foreground,
        )
        self.seen = ""

    def wait_for(self, text, seconds=30):
        until = time.monotonic() + seconds
        while text not in self.seen:
            assert time.monotonic() < until, f"{text!r} did not come; seen: {self.seen!r}"
            self.read()

    def read(self, seconds=0.1):
        if select.select([self.master], [], [], seconds)[0]:
            self.seen += os.read(self.master, 65536).decode()

    def press(self, key):
        os.write(self.master, key.encode())

    def end(self):
        out, _ = self.process.communicate(timeout=30)
        while select.select([self.master], [], [], 0)[0]:
            self.read()
        os.close(self.slave)
        os.close(self.master)
        return self.process.returncode, out.decode()


def tap_schedule(terminal, wheel_turns, flyer_s, ratio):
    """Tap a wheel and a flyer that turn evenly; return how late the latest tap was, in seconds."""
    events = [(i * flyer_s, "f") for i in range(int((wheel_turns + 1) * ratio) + 2)]
    events += [((n + 0.3) * ratio * flyer_s, "w") for n in range(wheel_turns + 1)]
    start, late = time.monotonic(), 0.0
    for at_s, key in sorted(events):
        while (left := start + at_s - time.monotonic()) > 0:
            terminal.read(min(left, 0.02))
        late = max(late, time.monotonic() - start - at_s)
        terminal.press(key)
    return late


@pytest.mark.skipif(os.name != "posix", reason="needs a pseudo-terminal")
def test_tapping_at_a_terminal(tmp_path):
    log = tmp_path / "taps.pulses"
    terminal = Terminal("--json", "-o", str(log))
    terminal.wait_for("q ends")
    late_s = tap_schedule(terminal, wheel_turns=6, flyer_s=0.15, ratio=5.5)
    terminal.press("x")  # any other key is passed over
    terminal.press("q")
    code, out = terminal.end()
    assert code == 0
    said = json.loads(out)
    assert said["wheel_turns"] == 6
    # a tap `late_s` late at either end of 6 turns, at 1/0.15 flyer turns a second; 50 ms for a busy machine
    assert said["ratio"]["value"] == pytest.approx(5.5, abs=(late_s + 0.05) / 0.15 / 6)
    assert said["ratio"]["low"] <= said["ratio"]["value"] <= said["ratio"]["high"]
    assert "wheel 7 · flyer 40" in terminal.seen
    found = read_log(lambda: [log.read_bytes()])
    assert (found.rows.channel == ord("w")).sum() == 7
    assert (found.rows.channel == ord("f")).sum() == 40
    assert (found.tally.lost, found.tally.malformed_lines, found.tally.bad_checksum) == (0, 0, 0)
    assert found.header.tick_bits == 0
    assert "tapped by hand" in found.header.note


@pytest.mark.skipif(os.name != "posix", reason="needs a pseudo-terminal")
def test_too_few_taps_end_with_one_line():
    terminal = Terminal()
    terminal.wait_for("q ends")
    for key in "wfq":
        terminal.press(key)
    code, out = terminal.end()
    assert code == 1
    assert out == ""
    assert "1 wheel taps and 1 flyer taps are too few" in terminal.seen.splitlines()[-1]


@pytest.mark.skipif(os.name != "posix", reason="needs a pseudo-terminal")
def test_an_interrupt_keeps_the_log_and_the_terminal(tmp_path):
    import termios

    log = tmp_path / "taps.pulses"
    terminal = Terminal("-o", str(log))
    before = termios.tcgetattr(terminal.master)[3]
    terminal.wait_for("q ends")
    for key in "wff":
        terminal.press(key)
    terminal.wait_for("flyer 2")
    assert not termios.tcgetattr(terminal.master)[3] & termios.ICANON
    terminal.process.send_signal(signal.SIGINT)
    deadline = time.monotonic() + 20
    while terminal.process.poll() is None and time.monotonic() < deadline:
        terminal.read()
    assert termios.tcgetattr(terminal.master)[3] == before
    code, _ = terminal.end()
    assert code == 130
    assert len(read_log(lambda: [log.read_bytes()]).rows) == 3


@pytest.mark.skipif(os.name != "posix", reason="needs a pseudo-terminal")
def test_a_log_is_not_overwritten(tmp_path):
    log = tmp_path / "taps.pulses"
    log.write_text("w,1\n")
    terminal = Terminal("-o", str(log))
    code, _ = terminal.end()
    assert code == 2
    assert "exists already" in terminal.seen
    assert log.read_text() == "w,1\n"
