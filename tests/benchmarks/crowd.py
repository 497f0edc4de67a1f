"""What idle connections cost the live page: `python tests/benchmarks/crowd.py [--connections 1000]`.

The command with a simulated wheel in a process of its own. An owner asks for the room's state, on a new connection each
time, and a guest watches the changes: first alone, then beside a crowd of connections that say nothing, then beside one
that is renewed all the time, so that there are always as many. Wall time of the answers, the longest wait of the guest
for something new, processor time and memory of the program, and whether the log has lost a line.
"""

from __future__ import annotations

import argparse
import contextlib
import resource
import socket
import sys
import tempfile
import threading
import time
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlsplit

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "live"))

from live_process import Live, changes

from whorlpulse.logfile import read_log

SECONDS = 20.0


def connected(port: int) -> socket.socket:
    made = socket.create_connection(("127.0.0.1", port), timeout=10.0)
    made.setblocking(False)
    return made


def hung_up(one: socket.socket) -> bool:
    try:
        return one.recv(4096) == b""
    except BlockingIOError:
        return False
    except OSError:
        return True


def crowd_of(n: int, port: int, renewed: bool, over: threading.Event) -> None:
    """Hold n connections open, or as many of them as the server leaves; renewed: replace those that it hung up."""
    crowd = [connected(port) for _ in range(n)]
    while not over.wait(0.25):
        for i, one in enumerate(crowd):
            if renewed and hung_up(one):
                one.close()
                with contextlib.suppress(OSError):
                    crowd[i] = connected(port)
    for one in crowd:
        one.close()


def watched(live: Live, seconds: float) -> tuple[list[float], float]:
    """Answers' seconds on new connections, and the guest's longest wait for something new."""
    with live.client() as owner:
        cookie, port = "; ".join(f"{k}={v}" for k, v in owner.cookies.items()), owner.base_url.port
    waits: list[float] = []

    def look() -> None:
        with live.client() as guest:
            last, ends = time.monotonic(), time.monotonic() + seconds
            for at_s, _ in changes(guest):
                waits.append(at_s - last)
                last = at_s
                if at_s > ends:
                    return

    looker = threading.Thread(target=look, daemon=True)
    looker.start()
    answers, ends = [], time.monotonic() + seconds
    while time.monotonic() < ends:
        begun = time.monotonic()
        fresh = HTTPConnection("127.0.0.1", port, timeout=20.0)
        fresh.request("GET", "/state", headers={"Cookie": cookie})
        assert fresh.getresponse().status == 200
        fresh.close()
        answers.append(time.monotonic() - begun)
        time.sleep(0.05)
    looker.join()
    return answers, max(waits)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--connections", type=int, default=1000)
    n = asked.parse_args().connections
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (hard if soft < 2 * n + 500 else soft, hard))
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "kept.pulses"
        with Live("--from", "sim:three-whorls", "--record", str(out)) as live:
            port = urlsplit(live.link).port
            assert port is not None
            time.sleep(5.0)
            for name, renewed in (("alone", None), (f"beside {n} idle", False), (f"beside {n} renewed", True)):
                over = threading.Event()
                crowd = threading.Thread(target=crowd_of, args=(n, port, bool(renewed), over), daemon=True)
                if renewed is not None:
                    crowd.start()
                    time.sleep(3.0)
                began_s, spent = time.monotonic(), live.processor_s()
                answers, longest = watched(live, SECONDS)
                share = 100.0 * (live.processor_s() - spent) / (time.monotonic() - began_s)
                over.set()
                if renewed is not None:
                    crowd.join()
                p50, p99 = 1e3 * np.percentile(answers, (50, 99))
                print(
                    f"{name}: {len(answers)} answers, p50 {p50:.0f} ms, p99 {p99:.0f} ms, longest "
                    f"{1e3 * max(answers):.0f} ms; guest's longest wait {1e3 * longest:.0f} ms; "
                    f"{share:.1f} % of a core; {live.resident_mb():.0f} MB"
                )
            live.stop()
        tally = read_log(lambda: [out.read_bytes()]).tally
        print(f"the log: {tally.pulses} pulses, {tally.lost} lines lost, {tally.bad_checksum} damaged")


if __name__ == "__main__":
    main()
