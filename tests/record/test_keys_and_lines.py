"""Notes by key, at a real terminal (a pseudo-terminal), and the keys' own rules."""

from __future__ import annotations

import os
import pty
import sys
import termios
import threading
import time
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from pty_board import plugged, wait_for
from recorder_process import Recording

from whorlpulse.actions.key_notes import KeyNotes
from whorlpulse.cli.record import read_length
from whorlpulse.logfile import read_log
from whorlpulse.sources.keyboard import ERASE, ESCAPE, RETURN, Key, KeySplitter, keys_can_be_heard
from whorlpulse.wire import encode_pulse

HZ = 1_000_000


class Terminal:
    """A terminal with somebody at it: types, and reads what is drawn."""

    def __init__(self) -> None:
        self.end, self.device = pty.openpty()
        termios.tcsetwinsize(self.device, (24, 200)) if hasattr(termios, "tcsetwinsize") else None
        self._drawn: list[bytes] = []
        threading.Thread(target=self._watch, daemon=True).start()

    def _watch(self) -> None:
        try:
            while data := os.read(self.end, 4096):
                self._drawn.append(data)
        except OSError:
            return

    @property
    def drawn(self) -> str:
        return b"".join(self._drawn).decode("utf-8", "replace")

    def type(self, text: str) -> None:
        os.write(self.end, text.encode())

    def await_drawn(self, text: str) -> None:
        wait_for(lambda: text in self.drawn, 8.0, saying=f"{text!r} was not drawn")

    def close(self) -> None:
        for fd in (self.end, self.device):
            os.close(fd)


def in_front(terminal: Terminal) -> None:
    """Make the recorder's process the one in front at the terminal; runs in the child."""
    os.setsid()
    import fcntl

    fcntl.ioctl(terminal.device, termios.TIOCSCTTY, 0)


def test_lengths_and_marks_are_noted_at_the_moment_of_their_first_key(tmp_path: Path) -> None:
    log = tmp_path / "wheel.pulses"
    terminal = Terminal()
    before = termios.tcgetattr(terminal.device)
    with (
        plugged(tmp_path / "port") as board,
        Recording(
            log,
            f"serial:{board.path}",
            stdin=terminal.device,
            stderr=terminal.device,
            before=lambda: in_front(terminal),
        ) as recording,
    ):
        recording.await_in_log(b"# started")
        terminal.await_drawn("keys: l a length drawn in")
        board.say(b"# format: pulses 1\n")
        began_s = time.monotonic()
        stop = threading.Event()

        def tick(at_s: float) -> int:
            return 5_000_000 + round((at_s - began_s) * HZ)

        def talk() -> None:
            n = 0
            while not stop.wait(0.2):
                board.say(encode_pulse("k", tick(time.monotonic()), n))
                n += 1

        talking = threading.Thread(target=talk, daemon=True)
        talking.start()
        recording.await_in_log(b"\nk,")
        pressed_s = time.monotonic()
        terminal.type("l")
        terminal.await_drawn("length drawn in since the last")
        terminal.type("0.6x")
        time.sleep(0.7)
        terminal.type("\x7f2\x1b[A m\r")  # an erased letter, an arrow key
        recording.await_in_log(b"# length:")
        marked_s = time.monotonic()
        terminal.type("m")
        terminal.type("changed to the small whorl\r")
        recording.await_in_log(b"# mark:")
        terminal.type("l0.5\r")  # no unit: said, not written
        terminal.await_drawn("not clear")
        terminal.type("\x1b")
        stop.set()
        talking.join()
        terminal.type("q")
        code, out, _ = recording.end()
    assert code == 0
    assert "no pulses" in out
    after = termios.tcgetattr(terminal.device)
    assert after[:4] == before[:4], "the terminal is as it was"
    terminal.close()
    header = read_log(lambda: [log.read_bytes()]).header
    (length,), (mark,) = header.lengths, header.marks
    assert (length.value, length.unit, mark.text) == (0.62, "m", "changed to the small whorl")
    # the process reads the key, and stamps lines, within a few milliseconds; a loaded machine may take longer
    assert abs(length.tick - tick(pressed_s)) < 0.15 * HZ
    assert abs(mark.tick - tick(marked_s)) < 0.15 * HZ
    assert not header.problems


def pressed(notes: KeyNotes, text: str, at_s: float = 0.0) -> list[object]:
    return [note for note in (notes.press(Key(c, at_s)) for c in text) if note is not None]


def test_a_note_belongs_to_its_first_key() -> None:
    notes = KeyNotes(read_length, lambda at_s: int(1000 * at_s))
    notes.press(Key("L", 2.0))
    (note,) = pressed(notes, "12 in" + RETURN, at_s=9.0)
    assert note == type(note)("length", 2000, "12 in")  # type: ignore[call-arg]
    assert notes.asked is None


def test_before_the_first_pulse_there_is_nothing_to_tie_a_note_to() -> None:
    notes = KeyNotes(read_length, lambda _: None)
    assert pressed(notes, "l0.62 m" + RETURN) == []
    assert notes.says is not None
    assert "no pulse line" in notes.says


def test_escape_leaves_out_and_q_inside_a_note_is_a_letter() -> None:
    notes = KeyNotes(read_length, lambda _: 5)
    assert pressed(notes, "mquick" + ESCAPE) == []
    assert not notes.stop
    assert pressed(notes, "mqu" + ERASE + RETURN)[0].text == "q"  # type: ignore[attr-defined]
    assert pressed(notes, "q") == []
    assert notes.stop


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("0.62 m", ("0.62", "m")),
        ("62cm", ("62", "cm")),
        ("24.50 in", ("24.50", "in")),  # the digits that were read stay
        ("0 m", ("0", "m")),
        ("1 1/8 in", ("0.028575", "m")),  # 1.125 x 25.4 mm
    ],
)
def test_a_typed_length_is_kept_as_typed(typed: str, written: tuple[str, str]) -> None:
    assert read_length(typed) == written


@pytest.mark.parametrize("typed", ["", "0.62", "m", "-1 m", "0.62 miles", "0.6 m +- 0.1 m", "1 m 20 cm"])
def test_an_unclear_length_is_refused_in_one_line(typed: str) -> None:
    with pytest.raises(ValueError, match=".") as refused:
        read_length(typed)
    assert "\n" not in str(refused.value)


def test_bytes_of_a_terminal_become_keys() -> None:
    splitter = KeySplitter()
    assert splitter.feed("aé".encode()[:2]) == ["a"]
    assert splitter.feed("é".encode()[1:]) == ["é"]
    assert splitter.feed(b"\r\x7f\x1b") == [RETURN, ERASE, ESCAPE]
    assert splitter.feed(b"\x1b[A\x1b[1;5C\x1bOPx") == ["x"]
    assert splitter.feed(b"\xff") == ["\ufffd"]


def test_no_keys_without_a_terminal(tmp_path: Path) -> None:
    with (tmp_path / "file").open("wb") as file:
        assert not keys_can_be_heard(file)
    assert not keys_can_be_heard(None if sys.stdin is None else type("Closed", (), {"isatty": lambda _: False})())
