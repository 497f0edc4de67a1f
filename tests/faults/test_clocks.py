"""The host's clock is set while it records, and the program or the whole computer sleeps."""

from __future__ import annotations

import os
import random
import signal
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from pty_board import PtyBoard, plugged
from recorder_process import Recording

from whorlpulse.logfile import read_log
from whorlpulse.wire import encode_pulse

SET_CLOCK = Path(__file__).resolve().parent / "set_clock"
FULL = os.environ.get("WHORLPULSE_FULL", "") not in ("", "0")
ASLEEP_S = 60.0 if FULL else 3.3
#: Between tens of lines.
BREATH_S = 0.03 if FULL else 0.0025
#: How late a tie may be on a busy computer; the faults looked for are ten times that and more.
LATE_S = 1.0
#: Summer time in the EU ends at 01:00 UTC on the last Sunday of October (Directive 2000/84/EC, article 3).
SUMMER_ENDS = datetime(2026, 10, 25, 1, tzinfo=UTC).timestamp()


def tied_s(log: bytes) -> list[float]:
    """Where each `sync` line has the board's zero, in the host's seconds; the board's clock counts microseconds."""
    ties = [line.split() for line in log.splitlines() if line.startswith(b"# sync:")]
    return [float(unix_s) - int(tick) / 1e6 for _, _, unix_s, tick in ties]


def said_at(log: bytes, key: bytes) -> datetime:
    line = next(x for x in log.splitlines() if x.startswith(b"# " + key + b": "))
    return datetime.fromisoformat(line.split()[2].decode())


class Clock:
    """The clock of the day of processes started from here on."""

    def __init__(self, place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self._place = place
        monkeypatch.setenv("CLOCK_IS_OFF_BY", str(place))
        monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(SET_CLOCK), os.environ.get("PYTHONPATH", "")]))

    def set(self, unix_s: float) -> None:
        new = self._place.with_suffix(".new")
        new.write_text(repr(unix_s - time.time()))
        new.replace(self._place)


def now_line(n: int) -> bytes:
    return encode_pulse("f", round(time.monotonic() * 1e6) % 2**40, n)


def recorded_while_set(tmp_path: Path, log: Path, clock: Clock, first_s: float, then_s: float) -> bytes:
    """Record, set the clock, pull and plug, record on: a tie before and one after."""
    clock.set(first_s)
    board = PtyBoard(tmp_path / "port")
    board.plug()
    with Recording(log, f"serial:{board.path}", "--quiet") as recording:
        recording.await_in_log(b"# started")
        board.say(b"# tick_bits: 48\n" + now_line(0))
        recording.await_in_log(b"# sync", 1)
        clock.set(then_s)
        board.pull()
        recording.await_in_log(b"# lost")
        board.plug()
        recording.await_in_log(b"# resumed")
        board.say(now_line(1))
        recording.await_in_log(b"# sync", 2)
        assert recording.stop()[0] == 0
    board.pull()
    return log.read_bytes()


def test_host_clock_stepped(tmp_path: Path, log: Path, dice: random.Random, monkeypatch: pytest.MonkeyPatch) -> None:
    """A time server's step, or a hand: the board is tied to a clock that it does not move; people read the clock's."""
    step_s = dice.choice([-86400.0, -3600.0, -20.0, 20.0, 3600.0, 1e8])
    first_s = 1.8e9
    written = recorded_while_set(tmp_path, log, Clock(tmp_path / "clock", monkeypatch), first_s, first_s + step_s)
    before_s, after_s = tied_s(written)
    assert abs(after_s - before_s) < LATE_S
    assert 0 <= said_at(written, b"started").timestamp() - first_s < 30
    assert -1 <= said_at(written, b"resumed").timestamp() - (first_s + step_s) < 30


def test_summer_time_ends(tmp_path: Path, log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """02:59:59 +02:00 is followed by 02:00:00 +01:00; the moments in the log are in order and an hour is not lost."""
    monkeypatch.setenv("TZ", "CET-1CEST,M3.5.0,M10.5.0/3")
    clock = Clock(tmp_path / "clock", monkeypatch)
    written = recorded_while_set(tmp_path, log, clock, SUMMER_ENDS - 60.0, SUMMER_ENDS + 60.0)
    started, resumed = said_at(written, b"started"), said_at(written, b"resumed")
    assert str(started.utcoffset()) == "2:00:00"
    assert str(resumed.utcoffset()) == "1:00:00"
    assert 60 <= (resumed - started).total_seconds() < 180
    before_s, after_s = tied_s(written)
    assert abs(after_s - before_s) < LATE_S


def test_asleep(tmp_path: Path, log: Path, dice: random.Random) -> None:
    """Stopped and woken (SIGSTOP, SIGCONT), while the board sends on into a full buffer, as a sleeping computer's.

    What the system's buffer took is in the log; what it did not is counted by the board's numbers; no tie is
    made with lines that had waited.
    """
    sending = Unheard()
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}", "--quiet") as recording:
        recording.await_in_log(b"# started")
        board.say(b"# tick_bits: 48\n")
        sending.for_s(board, dice.uniform(0.1, 0.4))
        recording.await_in_log(b"# sync", 1)
        recording.process.send_signal(signal.SIGSTOP)
        sending.for_s(board, ASLEEP_S)
        recording.process.send_signal(signal.SIGCONT)
        sending.for_s(board, 1.5, until=lambda: recording.written().count(b"# sync") > 1)
        last = sending.end(board)
        recording.await_in_log(last)
        assert recording.stop()[0] == 0
    written = log.read_bytes()
    found = read_log(lambda: [written])
    assert found.tally.malformed_lines == 0
    assert sending.dropped > 0, "the buffer was never full: nothing was tried"
    assert found.tally.lost == sending.dropped
    assert len(found.rows) == sending.taken
    ties_s = tied_s(written)
    assert len(ties_s) >= 2
    assert max(ties_s) - min(ties_s) < LATE_S, "a line that had waited tied the clock"


class Unheard:
    """A board that sends more than the port takes, and drops a line that it does not take.

    Some thousand lines a second, or some hundred for a minute: more than 32,767 lines lost in one piece cannot be
    counted by numbers of 16 bits.
    """

    def __init__(self) -> None:
        self.taken = self.dropped = 0
        self._rest = b""

    def for_s(self, board: PtyBoard, seconds: float, until: object = None) -> None:
        end_s = time.monotonic() + seconds
        while time.monotonic() < end_s or (callable(until) and not until() and time.monotonic() < end_s + 10.0):
            for _ in range(10):
                self._try(board)
            time.sleep(BREATH_S)

    def end(self, board: PtyBoard) -> bytes:
        """Send what is still to be sent and one line that is not dropped; return it."""
        line = now_line((self.taken + self.dropped) % 65536)
        board.say(self._rest + line)
        self.taken += 1
        return line

    def _try(self, board: PtyBoard) -> None:
        os.set_blocking(board.descriptor, False)
        try:
            if self._rest:
                self._rest = self._rest[os.write(board.descriptor, self._rest) :]
            if self._rest:
                self.dropped += 1
                return
            line = now_line((self.taken + self.dropped) % 65536)
            self._rest = line[os.write(board.descriptor, line) :]
            self.taken += 1
        except BlockingIOError:
            self.dropped += 1
        finally:
            os.set_blocking(board.descriptor, True)
