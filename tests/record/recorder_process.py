"""The command `record` in a process of its own, as a user runs it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any

from pty_board import wait_for

#: Lines of the host, which are no part of what the board sent.
HOST_KEYS = (b"# started:", b"# source:", b"# sync:", b"# lost:", b"# resumed:", b"# length:", b"# mark:")
STARTING_S = 15.0


class Recording:
    """A running `record`; it is killed at the end of the block if it still runs."""

    def __init__(
        self,
        log: Path,
        source: str,
        *options: str,
        stdin: int | IO[bytes] = subprocess.DEVNULL,
        stderr: int | IO[bytes] = subprocess.PIPE,
        before: Callable[[], None] | None = None,
    ) -> None:
        self.log = log
        words = [sys.executable, "-m", "whorlpulse", "record", str(log), "--from", source, *options]
        self.process: subprocess.Popen[bytes] = subprocess.Popen(
            words, stdin=stdin, stdout=subprocess.PIPE, stderr=stderr, preexec_fn=before, env=_environment()
        )

    def __enter__(self) -> Recording:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.communicate()

    def written(self) -> bytes:
        """Return what is in the log."""
        return self.log.read_bytes() if self.log.exists() else b""

    def await_in_log(self, text: bytes, count: int = 1, within_s: float = STARTING_S) -> None:
        """Wait until the log has the text so many times."""
        wait_for(lambda: self.written().count(text) >= count, within_s, saying=f"{text!r} did not come into the log")

    def await_segment(self, data: bytes, within_s: float) -> None:
        """Wait until what came since the last loss begins with these bytes."""
        wait_for(lambda: segments(self.written())[-1].startswith(data), within_s, saying="it was not written")

    def stop(self, by: int = signal.SIGINT, within_s: float = 10.0) -> tuple[int, str, str]:
        """Send a signal; return exit code, standard output and standard error."""
        self.process.send_signal(by)
        return self.end(within_s)

    def end(self, within_s: float = 10.0) -> tuple[int, str, str]:
        """Wait for the end; return exit code, standard output and standard error."""
        out, err = self.process.communicate(timeout=within_s)
        return self.process.returncode, out.decode(), (err or b"").decode()

    def processor_s(self) -> float:
        """Return the processor time that the process has used, in seconds (proc(5), fields 14 and 15)."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def boards_bytes(log: bytes) -> bytes:
    """Return a log without the host's lines."""
    return b"".join(line for line in log.splitlines(keepends=True) if not line.startswith(HOST_KEYS))


def segments(log: bytes) -> list[bytes]:
    """Return the board's bytes of each connection: what stands between the marks of loss."""
    parts: list[list[bytes]] = [[]]
    for line in log.splitlines(keepends=True):
        if line.startswith(b"# lost:"):
            parts.append([])
        else:
            parts[-1].append(line)
    return [boards_bytes(b"".join(part)) for part in parts]


def _environment() -> dict[str, Any]:
    return os.environ | {"PYTHONUNBUFFERED": "1"}
