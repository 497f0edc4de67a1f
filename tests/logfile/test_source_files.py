"""Opening and writing files: each fault has its one line, and nothing is overwritten."""

from __future__ import annotations

import io
import os
import sys
from types import SimpleNamespace

import pytest

from whorlpulse.sources.files import BLOCK_BYTES, SourceError, log_blocks, read_bytes, write_new


def one_line(error) -> str:
    text = str(error.value)
    assert "\n" not in text
    assert text.count(": ") >= 1  # what and where, then what to do
    return text


def test_blocks_are_the_file_and_can_be_read_again(tmp_path):
    path = tmp_path / "a.pulses"
    data = bytes(range(256)) * 3000
    path.write_bytes(data)
    blocks = log_blocks(path)
    assert b"".join(blocks()) == data
    assert [len(block) for block in blocks()] == [BLOCK_BYTES, BLOCK_BYTES, len(data) - 2 * BLOCK_BYTES]


def test_standard_input_is_kept_for_a_second_reading(monkeypatch):
    data = os.urandom(700_000)
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(data)))
    blocks = log_blocks("-")
    next(blocks())  # left after the first block, as a look at the start of a log does
    assert b"".join(blocks()) == data
    assert b"".join(blocks()) == data


def test_a_named_pipe_is_opened_once(tmp_path):
    path = tmp_path / "pipe"
    os.mkfifo(path)
    writer = os.open(path, os.O_RDWR)  # both ends, so that no open waits for the other side
    os.write(writer, b"f,1\n")
    blocks = log_blocks(path)
    os.close(writer)
    assert b"".join(blocks()) == b"f,1\n"
    assert b"".join(blocks()) == b"f,1\n"


def test_faults_have_their_sentence(tmp_path):
    with pytest.raises(SourceError) as error:
        log_blocks(tmp_path / "none.pulses")
    assert "none.pulses is not there" in one_line(error)
    with pytest.raises(SourceError) as error:
        log_blocks(tmp_path)
    assert "is a directory" in one_line(error)
    (tmp_path / "wheel.pulses").touch()
    with pytest.raises(SourceError) as error:
        log_blocks(tmp_path)
    assert one_line(error).endswith("for example " + str(tmp_path / "wheel.pulses"))
    with pytest.raises(SourceError) as error:
        read_bytes(tmp_path / "none.toml")
    assert "is not there" in one_line(error)
    with pytest.raises(SourceError) as error:
        log_blocks("two\nlines")
    assert "is not there" in one_line(error)
    with pytest.raises(SourceError) as error:
        log_blocks("nul\0name")
    assert "cannot be read" in one_line(error)


def test_a_file_that_may_not_be_read(tmp_path, monkeypatch):
    path = tmp_path / "a.pulses"
    path.write_bytes(b"w,1\n")

    def refuse(*_args, **_options):
        raise PermissionError(13, "Permission denied")  # as the system does; who runs the tests may be root

    monkeypatch.setattr("builtins.open", refuse)
    with pytest.raises(SourceError) as error:
        log_blocks(path)
    assert "may not be read" in one_line(error)


def test_small_files_are_limited(tmp_path):
    path = tmp_path / "wheel.toml"
    path.write_bytes(b"x" * 100)
    assert read_bytes(path, 100) == b"x" * 100
    with pytest.raises(SourceError) as error:
        read_bytes(path, 99)
    assert "larger than 99 bytes" in one_line(error)


def test_write_new_never_overwrites_unasked(tmp_path):
    path = tmp_path / "out.pulses"
    write_new(path, b"one")
    with pytest.raises(SourceError) as error:
        write_new(path, b"two")
    assert "left as it is" in one_line(error)
    assert path.read_bytes() == b"one"
    write_new(path, b"three", replace=True)
    assert path.read_bytes() == b"three"
    assert os.listdir(tmp_path) == ["out.pulses"]


def test_write_new_leaves_nothing_behind_when_it_fails(tmp_path, monkeypatch):
    with pytest.raises(SourceError) as error:
        write_new(tmp_path / "no" / "folder.txt", b"x")
    assert "cannot be written" in one_line(error)
    with pytest.raises(SourceError) as error:
        write_new(tmp_path, b"x", replace=True)
    assert "is a directory" in one_line(error)

    def full(_descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(SourceError) as error:
        write_new(tmp_path / "b.txt", b"x")
    assert "no space left on device" in one_line(error)
    assert os.listdir(tmp_path) == []


def test_new_files_have_ordinary_permissions(tmp_path):
    ordinary = tmp_path / "ordinary"
    ordinary.write_bytes(b"")
    write_new(tmp_path / "ours", b"")
    assert (tmp_path / "ours").stat().st_mode == ordinary.stat().st_mode
