"""A day of spinning through the whole program, sped up: `python tests/soak/day.py [--hours 24]`.

A board on a pseudo-terminal in a process of its own, `live --record` with its serial source, its recorder and its
page's server, and a viewer of the page's stream. The wheel's truth is known by construction. Memory, descriptors and
threads of the program are looked at as the day goes; at its end the totals are compared with those of the commands
`ratio` and `check` on the log, and the log with what the board sent.

--speed: how many of the board's seconds pass in one; 0: as fast as it is taken; 1: real time.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import multiprocessing
import os
import subprocess
import sys
import tempfile
import threading
import time
import tty
from collections.abc import Iterator
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "live"))

from live_process import Live, changes

from whorlpulse.wire import encode_pulse

RATIO = 6.2
WHEEL_TARGETS, FLYER_TARGETS = 4, 7
GREETING = b"# format: pulses 1\n# tick_hz: 1000000\n# tick_bits: 32\n# targets: w=4 f=7\n"
#: How often the program is looked at in a day, short or long.
_LOOKS = 144
#: Host's lines in the log, which the board did not send.
HOST = (b"# started:", b"# source:", b"# sync:")


def spinning(hours: float, rate: float) -> Iterator[tuple[float, bytes]]:
    """Yield (the board's seconds, the lines of about one more second) of steady spinning at `rate` pulses/s."""
    wheel_hz = rate / (WHEEL_TARGETS + RATIO * FLYER_TARGETS)
    steps = {"w": 1 / (wheel_hz * WHEEL_TARGETS), "f": 1 / (wheel_hz * RATIO * FLYER_TARGETS), "k": 1.0}
    done, seq = dict.fromkeys(steps, 0), 0
    for second in range(1, int(hours * 3600) + 1):
        moments = []
        for letter, step in steps.items():
            n = int(np.ceil(second / step - 1e-9))
            moments += [(i * step, letter) for i in range(done[letter], n)]
            done[letter] = n
        moments.sort()
        lines = [
            encode_pulse(letter, round(1e6 * t) % 2**32, (seq + i) % 65536) for i, (t, letter) in enumerate(moments)
        ]
        seq += len(moments)
        yield float(second), b"".join(lines)


def board(hours: float, rate: float, speed: float, told: Connection) -> None:
    """Send it on a pseudo-terminal; tells the port, then the hours done as they pass, at last bytes and their hash."""
    master, slave = os.openpty()
    tty.setraw(slave)
    told.send(os.ttyname(slave))
    told.recv()
    os.write(master, GREETING)
    every_s = max(1, int(hours * 3600 / _LOOKS))
    digest, size, began_s = hashlib.sha256(GREETING), len(GREETING), time.monotonic()
    for at_s, lines in spinning(hours, rate):
        if speed:
            time.sleep(max(0.0, began_s + at_s / speed - time.monotonic()))
        rest = lines
        while rest:
            rest = rest[os.write(master, rest) :]
        digest.update(lines)
        size += len(lines)
        if at_s % every_s == 0:
            told.send(at_s / 3600)
    told.send((size, digest.hexdigest()))
    told.recv()


@dataclass
class Looks:
    """What was seen of the program, again and again: memory in MB, open descriptors, threads."""

    hours: list[float] = field(default_factory=list)
    memory_mb: list[float] = field(default_factory=list)
    descriptors: list[int] = field(default_factory=list)
    threads: list[int] = field(default_factory=list)

    def look(self, hour: float, live: Live) -> None:
        """Look at the process now (proc(5))."""
        process = Path(f"/proc/{live.process.pid}")
        self.hours.append(hour)
        self.memory_mb.append(live.resident_mb())
        self.descriptors.append(len(os.listdir(process / "fd")))
        self.threads.append(len(os.listdir(process / "task")))

    def grown_mb(self) -> float:
        """How much more memory was in use in the last quarter than in the second (medians)."""
        n = len(self.memory_mb) // 4
        return float(np.median(self.memory_mb[-n:]) - np.median(self.memory_mb[n : 2 * n]))


@dataclass(frozen=True)
class Day:
    """What a day gave. sent, kept: bytes and their hash, as the board sent and as the log has them."""

    looks: Looks
    sent: tuple[int, str]
    kept: tuple[int, str]
    live: dict[str, Any]
    ratio: dict[str, Any]
    check: dict[str, Any]
    documents: int
    told: str
    took_s: float
    errors: str


def spend(hours: float, rate: float, speed: float, folder: Path) -> Day:
    """Run a day; see the module's head."""
    log = folder / "day.pulses"
    spawn = multiprocessing.get_context("spawn")
    ours, theirs = spawn.Pipe()
    sending = spawn.Process(target=board, args=(hours, rate, speed, theirs), daemon=True)
    sending.start()
    began_s, looks, seen = time.monotonic(), Looks(), [0]
    try:
        with (
            Live("--from", f"serial:{ours.recv()}", "--record", str(log)) as live,
            live.client() as client,
            live.client() as watching,
        ):
            viewer = threading.Thread(target=_watch, args=(watching, seen), daemon=True)
            viewer.start()
            ours.send("begin")
            while not isinstance(word := ours.recv(), tuple):
                looks.look(word, live)
            _await_taken(log, word[0], live)
            state = _settled(live, client)
            code, told, errors = live.stop(within_s=300.0)
            assert code == 0, errors
            viewer.join(20.0)
        ours.send("end")
    finally:
        sending.kill()
        sending.join()
    own = b"".join(x for x in log.read_bytes().splitlines(keepends=True) if not x.startswith(HOST))
    said = [_said(command, log) for command in ("ratio", "check")]
    kept = (len(own), hashlib.sha256(own).hexdigest())
    return Day(looks, word, kept, state, said[0], said[1], seen[0], told, time.monotonic() - began_s, errors)


def _watch(client: Any, seen: list[int]) -> None:
    for _ in changes(client):
        seen[0] += 1


def _await_taken(log: Path, size: int, live: Live) -> None:
    """Wait until as many bytes are in the log as were sent, and the host's lines beside them."""
    end_s, before = time.monotonic() + 120.0, -1
    while time.monotonic() < end_s:
        now = log.stat().st_size
        if now >= size and now == before:
            return
        before = now
        assert live.process.poll() is None
        time.sleep(0.5)
    raise AssertionError(f"{size} bytes were sent, {before} are in the log")


def _settled(live: Live, client: Any) -> dict[str, Any]:
    """The page's last document; the pulses in it have stopped growing."""
    state = live.state(client)
    while True:
        time.sleep(1.0)
        again = live.state(client)
        if again["pulses"] == state["pulses"]:
            return again
        state = again


def _said(command: str, log: Path) -> dict[str, Any]:
    words = [sys.executable, "-m", "whorlpulse", command, str(log), "--json"]
    said: dict[str, Any] = json.loads(subprocess.run(words, capture_output=True, check=True).stdout)
    return said


def main() -> None:
    """Spend a day and say what it was like."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--hours", type=float, default=24.0)
    asked.add_argument("--rate", type=float, default=60.0)
    asked.add_argument("--speed", type=float, default=0.0)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        day = spend(given.hours, given.rate, given.speed, Path(folder))
    looks = day.looks
    print(f"{given.hours:g} h at {given.rate:g} pulses/s in {day.took_s:.0f} s; load {os.getloadavg()[0]:.1f}")
    print(f"bytes sent {day.sent[0]}, in the log {day.kept[0]}, the same: {day.sent == day.kept}")
    print(f"memory MB, each twelfth: {[round(m) for m in looks.memory_mb[11::12]]}; grown {looks.grown_mb():.1f} MB")
    print(f"descriptors {min(looks.descriptors)} to {max(looks.descriptors)}, last {looks.descriptors[-6:]}")
    print(f"threads {min(looks.threads)} to {max(looks.threads)}, last {looks.threads[-6:]}")
    print(f"documents to the viewer {day.documents}; live pulses {day.live['pulses']}; check {day.check['lines']}")
    print(f"ratio {day.ratio['ratio']} (true {RATIO}); turns {day.ratio['wheel_turns']}, {day.ratio['flyer_turns']}")
    print("live said at its end:", day.told.splitlines()[-3:])
    if day.errors:
        print("errors:", day.errors[-500:])


if __name__ == "__main__":
    main()
