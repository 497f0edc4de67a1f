"""What happens between board and computer: the plug, the baud rate, a board that begins anew, its clock."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

from pty_board import PtyBoard, lines, plugged
from recorder_process import STARTING_S, Recording, boards_bytes, segments
from spun import GREETING, assert_true_ratio, ratio_of, spun
from uart import heard_at

from whorlpulse.logfile import read_log
from whorlpulse.wire import Decoder, Pulse


def recorded(tmp_path: Path, log: Path, sent: bytes) -> tuple[int, str, str]:
    """Record what a board sends; it is over when all of it is in the log."""
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as recording:
        recording.await_in_log(b"# started")
        board.say(sent)
        recording.await_in_log(sent[-12:], within_s=STARTING_S)
        ended = recording.stop()
    assert boards_bytes(log.read_bytes()) == sent
    return ended


def assert_no_turn_across(said: dict[str, Any], *parts: list[bytes]) -> None:
    """All turns between a part's pulses count, but for the one after a start and one at either end; none across."""
    whole = sum(sum(line.startswith(b"w") for line in part) - 1 for part in parts)
    assert whole - 3 * len(parts) <= said["wheel_turns"] <= whole


def test_unplugged_in_the_middle_of_a_line(tmp_path: Path, log: Path, dice: random.Random) -> None:
    board = PtyBoard(tmp_path / "port")
    board.plug()
    sent, n = [], 0
    with Recording(log, f"serial:{board.path}", "--quiet") as recording:
        recording.await_in_log(b"# started")
        for cycle in range(3):
            if cycle:
                board.plug()
                recording.await_in_log(b"# resumed", cycle)
            more = dice.randrange(1, 200)
            torn = lines(1, n + more)[0]  # whole but for its LF it would count
            data = b"".join(lines(more, n)) + torn[: dice.randrange(len(torn) - 1)]
            n += more
            board.say(data)
            recording.await_segment(data, within_s=5.0)
            board.pull()
            recording.await_in_log(b"# lost", cycle + 1)
            sent.append(data)
        assert recording.stop()[0] == 0
    for data, segment in zip(sent, segments(log.read_bytes()), strict=False):
        assert segment.startswith(data)
        assert segment[len(data) :] in (b"", b"\n", b" (torn)\n")
    pulses = [m.tick for m in Decoder().feed(log.read_bytes()) if isinstance(m, Pulse)]
    assert pulses == [1000 * i for i in range(n)], "a torn line neither adds nor hides a pulse"


def test_half_the_baud_rate(tmp_path: Path, log: Path, dice: random.Random) -> None:
    """Not one pulse is read out of the noise, the bytes are kept, and the user is told what to look at."""
    noise = heard_at(0.5, b"".join(spun(dice.uniform(20, 40))))
    code, out, err = recorded(tmp_path, log, noise)
    assert (code, out) == (1, "")
    assert "baud rate" in err or "nothing came" in err
    found = read_log(lambda: [log.read_bytes()])
    assert len(found.rows) == 0


def test_board_reset_in_the_middle_of_a_line(tmp_path: Path, log: Path, dice: random.Random) -> None:
    """Its clock and its numbers begin anew after a torn line and a new greeting; both parts are measured.

    The numbers may stand anywhere by then; no line is lost but the torn one, which came.
    """
    stood_at = dice.randrange(65536)
    before = spun(dice.uniform(40, 60), first_seq=stood_at)
    torn = spun(61.0, first_seq=stood_at)[len(before)]
    torn = torn[: dice.randrange(len(torn) - 1)]  # its LF is missing
    after = spun(dice.uniform(40, 60), first_tick=dice.randrange(1, 100_000))
    code, _, _ = recorded(tmp_path, log, GREETING + b"".join(before) + torn + GREETING + b"".join(after))
    assert code == 0
    said = ratio_of(log)
    assert_true_ratio(said)
    assert_no_turn_across(said, before, after)
    assert any("began anew" in note for note in said["notes"])
    tally = read_log(lambda: [log.read_bytes()]).tally
    assert (tally.lost, tally.restarted) == (0, 1)


def test_board_clock_that_jumps_back(tmp_path: Path, log: Path, dice: random.Random) -> None:
    """The board's lines go on with their numbers, its clock does not: no turn is counted across."""
    first = spun(dice.uniform(40, 60), first_tick=4_000_000)
    second = spun(dice.uniform(40, 60), first_tick=dice.randrange(3_000_000), first_seq=len(first))
    code, _, _ = recorded(tmp_path, log, GREETING + b"".join(first + second))
    assert code == 0
    said = ratio_of(log)
    assert_true_ratio(said)
    assert_no_turn_across(said, first, second)
    assert any("began anew" in note for note in said["notes"])


def test_two_recorders_on_one_port(tmp_path: Path, log: Path, dice: random.Random) -> None:
    sent = lines(dice.randrange(50, 400))
    half = len(sent) // 2
    with plugged(tmp_path / "port") as board, Recording(log, f"serial:{board.path}") as first:
        first.await_in_log(b"# started")
        board.say(b"".join(sent[:half]))
        with Recording(tmp_path / "second.pulses", f"serial:{board.path}") as second:
            code, out, err = second.end(STARTING_S)
        board.say(b"".join(sent[half:]))
        first.await_in_log(sent[-1])
        assert first.stop()[0] == 0
    assert (code, out) == (2, "")
    assert "in use by another program" in err
    assert not (tmp_path / "second.pulses").exists()
    assert boards_bytes(log.read_bytes()) == b"".join(sent)
