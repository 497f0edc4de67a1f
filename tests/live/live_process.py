"""The command `live` in a process of its own, and a viewer of its page's stream."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx

_PAGE = re.compile(r"http://127\.0\.0\.1:(\d+)/\?key=\S+")


class Live:
    """A running `live`; it is killed at the end of the block if it still runs. link: of its page."""

    def __init__(self, *words: str, page: bool = True, module_path: str | None = None) -> None:
        environment = os.environ | {"PYTHONUNBUFFERED": "1"}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "whorlpulse", "live", *words, *(["--port", "0"] if page else [])],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
        )
        self.link = ""
        self._said: list[str] = []
        self._errors: list[str] = []
        assert self.process.stdout is not None
        assert self.process.stderr is not None
        found = threading.Event()

        def read_out(stream: Any) -> None:
            for line in stream:
                self._said.append(line)
                match = _PAGE.search(line)
                if match and not self.link:
                    self.link = match[0]
                    found.set()
            found.set()

        self._readers = [
            threading.Thread(target=read_out, args=(self.process.stdout,), daemon=True),
            threading.Thread(target=lambda s: self._errors.extend(s), args=(self.process.stderr,), daemon=True),
        ]
        for reader in self._readers:
            reader.start()
        if page:
            found.wait(20.0)
            assert self.link, "".join(self._errors)

    def __enter__(self) -> Live:
        return self

    def __exit__(self, *_: object) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        for reader in self._readers:
            reader.join(5.0)
        for stream in (self.process.stdout, self.process.stderr):
            assert stream is not None
            stream.close()

    def stop(self, by: int = signal.SIGINT, within_s: float = 30.0) -> tuple[int, str, str]:
        """Send a signal; return exit code, standard output and standard error."""
        self.process.send_signal(by)
        return self.end(within_s)

    def end(self, within_s: float = 30.0) -> tuple[int, str, str]:
        """Wait for the end; return exit code, standard output and standard error."""
        code = self.process.wait(within_s)
        for reader in self._readers:
            reader.join(5.0)
        return code, "".join(self._said), "".join(self._errors)

    @contextmanager
    def client(self) -> Iterator[httpx.Client]:
        """Give a client that has opened the page, so that it may look and act."""
        with httpx.Client(base_url=self.link.split("/?")[0], timeout=20.0) as client:
            assert client.get(self.link).status_code == 200
            yield client

    def state(self, client: httpx.Client) -> dict[str, Any]:
        """The first wheel as the page's server gives it."""
        found: dict[str, Any] = client.get("/state").json()["wheels"][0]
        return found

    def processor_s(self, *, with_children: bool = False) -> float:
        """Return the processor time of the process in seconds (proc(5), fields 14 to 17)."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        ticks = sum(int(f) for f in fields[11 : 15 if with_children else 13])
        return ticks / os.sysconf("SC_CLK_TCK")

    def resident_mb(self) -> float:
        """Return the memory that the process has in use (proc(5), VmRSS)."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(re.search(r"VmRSS:\s+(\d+)", status)[1]) / 1024  # type: ignore[index]


def changes(client: httpx.Client) -> Iterator[tuple[float, dict[str, Any]]]:
    """Yield (monotonic seconds when it had come, document) of the page's stream until it ends."""
    with client.stream("GET", "/changes") as answer:
        assert answer.status_code == 200
        rest = b""
        for piece in answer.iter_raw():
            at_s = time.monotonic()
            *events, rest = (rest + piece).split(b"\n\n")
            for event in events:
                if event.startswith(b"data: "):
                    yield at_s, json.loads(event[6:])
