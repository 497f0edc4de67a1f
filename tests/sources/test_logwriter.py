"""The growing log: the board's bytes unaltered, the host's lines between whole lines only, whatever happens."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from whorlpulse.logfile import read_log
from whorlpulse.sources.files import SourceError
from whorlpulse.sources.logwriter import LogStopped, LogWriter, refuse_to_overwrite
from whorlpulse.wire import Damaged, Decoder, Pulse

NOTE = b"# sync: 1.5 7\n"
#: Bytes as a board or noise would send them; never our own note.
CHUNKS = st.lists(st.one_of(st.binary(max_size=12), st.sampled_from([b"w,1\n", b"f,2", b",3*", b"\n", b"\r\n"])))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "wheel.pulses"


@given(chunks=CHUNKS, noted=st.sets(st.integers(0, 20)))
@settings(max_examples=300, deadline=None)
def test_without_the_hosts_lines_the_file_is_what_came(
    tmp_path_factory: pytest.TempPathFactory, chunks: list[bytes], noted: set[int]
) -> None:
    path = tmp_path_factory.mktemp("any") / "log"
    log = LogWriter(path, sync=lambda _: None)
    for i, chunk in enumerate(chunks):
        log.write(chunk)
        if i in noted:
            log.note("sync", "1.5 7")
    came = b"".join(chunks)
    written = path.read_bytes()
    # notes stand at line starts only, so taking whole lines away gives the bytes back
    kept = b"".join(line for line in written.splitlines(keepends=True) if line != NOTE)
    assert kept == came
    log.close()
    waiting = bool(written.count(NOTE) < sum(i in noted for i in range(len(chunks))))
    assert path.read_bytes().startswith(written)
    assert path.read_bytes().count(NOTE) == sum(i in noted for i in range(len(chunks)))
    if not waiting:  # a torn last line is left as it came
        assert path.read_bytes() == written


@pytest.mark.parametrize(
    ("torn", "end"),
    [
        (b"", b""),
        (b"f,1234567,42*5", b"\n"),  # no valid line as it is
        (b"f,1234567,42*50", b"\n"),  # whole but for its LF: it counts
        (b"f,12345", b" (torn)\n"),  # would read as a pulse at a wrong tick
        (b"# tick_hz: 10000", b" (torn)\n"),  # would read as a wrong clock
        (b"1,115200*0D", b"\n"),
        (b"\xff\x00", b"\n"),
    ],
)
def test_a_torn_line_is_ended_so_that_it_misleads_nobody(path: Path, torn: bytes, end: bytes) -> None:
    log = LogWriter(path)
    log.write(b"w,1\n" + torn)
    log.note("mark", "1 while torn")
    assert log.end_line() == end
    log.note("lost", "plug pulled")
    log.write(b"w,2\n")
    log.close()
    note = b"# mark: 1 while torn\n"
    assert path.read_bytes() == b"w,1\n" + torn + end + note + b"# lost: plug pulled\n" + b"w,2\n"
    found = Decoder().feed(path.read_bytes())
    pulses = [m.tick for m in found if isinstance(m, Pulse)]
    assert pulses == ([1, 1234567, 2] if torn.endswith(b"*50") else [1, 2])
    assert sum(isinstance(m, Damaged) for m in found) == (0 if torn[:1] in (b"", b"#") or torn.endswith(b"*50") else 1)
    assert read_log(lambda: [path.read_bytes()]).header.tick_hz == 1e6


def test_a_log_is_never_overwritten_unasked(path: Path) -> None:
    path.write_bytes(b"precious\n")
    for attempt in (refuse_to_overwrite, LogWriter):
        with pytest.raises(SourceError, match="exists already and is left as it is"):
            attempt(path)
    assert path.read_bytes() == b"precious\n"
    log = LogWriter(path, replace=True)
    log.close()
    assert path.read_bytes() == b""


def test_replace_spares_a_log_that_is_being_recorded(path: Path) -> None:
    first = LogWriter(path)
    first.write(b"w,1\n")
    held_elsewhere = (
        "import sys; from whorlpulse.sources.logwriter import LogWriter; LogWriter(sys.argv[1], replace=True)"
    )
    ran = subprocess.run([sys.executable, "-c", held_elsewhere, str(path)], capture_output=True, text=True, check=False)
    assert "is being recorded to" in ran.stderr
    first.write(b"w,2\n")
    first.close()
    assert path.read_bytes() == b"w,1\nw,2\n"


@pytest.mark.parametrize("place", ["folder", "missing/log", "-", "pipe"])
def test_a_place_that_takes_no_log_is_refused(tmp_path: Path, place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("folder").mkdir()
    os.mkfifo("pipe")
    with pytest.raises(SourceError) as refused:
        refuse_to_overwrite(place, replace=True)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO])
@pytest.mark.parametrize("call", ["write", "sync"])
def test_a_full_disk_stops_the_log_with_one_line(
    path: Path, monkeypatch: pytest.MonkeyPatch, number: int, call: str
) -> None:
    """The system says no to the third write, or to forcing it onto the disk (delayed allocation)."""

    def no(*_: object) -> int:
        raise OSError(number, os.strerror(number))

    log = LogWriter(path, sync=no if call == "sync" else os.fsync)
    log.write(b"w,1\n")
    log.write(b"w,2\n")
    with monkeypatch.context() as patch:
        if call == "write":
            patch.setattr(os, "write", no)
        act = (lambda: log.write(b"w,3\n")) if call == "write" else log.sync
        with pytest.raises(LogStopped) as stopped:
            act()
    said = str(stopped.value)
    assert ("the disk is full" in said) == (number != errno.EIO)
    assert "\n" not in said
    assert "can be read" in said
    if call == "write":
        log.close()
    else:
        with pytest.raises(LogStopped):
            log.close()
    assert path.read_bytes() == b"w,1\nw,2\n"


def test_a_write_in_pieces_is_completed(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = os.write
    monkeypatch.setattr(os, "write", lambda fd, data: whole(fd, bytes(data[:3])))
    log = LogWriter(path)
    log.write(b"w,1234567,1*00\nf,12")
    log.note("note", "between")
    log.write(b"3\n")
    log.close()
    assert path.read_bytes() == b"w,1234567,1*00\nf,123\n# note: between\n"


def test_a_note_that_would_not_read_back_is_refused(path: Path) -> None:
    log = LogWriter(path)
    with pytest.raises(ValueError, match="would not read back"):
        log.note("mark", "two\nlines")
    log.close()
    assert path.read_bytes() == b""


def test_dirty_until_forced_onto_the_disk(path: Path) -> None:
    forced: list[int] = []
    log = LogWriter(path, sync=forced.append)
    assert not log.dirty
    log.write(b"w,1\n")
    assert log.dirty
    log.sync()
    assert not log.dirty
    log.close()
    assert len(forced) == 2
