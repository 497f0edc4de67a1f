"""The bar: only after a second, only on a terminal, and gone when the work is done."""

import io
import time

import pytest

from whorlpulse.cli import progress


class Terminal(io.StringIO):
    def __init__(self, tty):
        super().__init__()
        self._tty = tty

    def isatty(self):
        return self._tty


def shown(monkeypatch, *, tty, lasts_s, done=None):
    stream = Terminal(tty)
    monkeypatch.setattr("sys.stderr", stream)
    with progress.Progress("reading x.pulses") as bar:
        bar.done = done
        time.sleep(lasts_s)
    return stream.getvalue()


def test_a_bar_after_a_second(monkeypatch):
    written = shown(monkeypatch, tty=True, lasts_s=1.3, done=0.5)
    assert "reading x.pulses [###############...............]  50 %" in written
    assert written.endswith("\r\x1b[K")


def test_quick_work_and_files_see_nothing(monkeypatch):
    assert shown(monkeypatch, tty=True, lasts_s=0.0) == ""
    assert shown(monkeypatch, tty=False, lasts_s=1.2) == ""


@pytest.mark.parametrize(("done", "text"), [(0.0, "  0 %"), (1.0, "100 %"), (7.0, "100 %"), (None, "3 s")])
def test_how_much_is_done(done, text):
    assert progress.bar(done, 3.2).endswith(text)


def test_blocks_tell_how_much_was_read(tmp_path):
    path = tmp_path / "log"
    path.write_bytes(b"x" * 100)
    with progress.Progress("reading") as bar:
        told = [bar.done for _ in progress.followed(lambda: iter([b"x" * 25] * 4), str(path), bar)()]
    assert told == [0.25, 0.5, 0.75, 1.0]
