"""How long `gather` takes for a thousand logs: on one core, on all, on a Dask cluster here, and when all is known.

`python tests/benchmarks/gather.py [LOGS]` prints a table; the logs are simulated, ten to thirty seconds to a few
minutes of spinning each, made once for the run and removed with it. Figures drift with what else the machine does;
the ratios are what to look at.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from whorlpulse.actions.gather_cores import all_cores
from whorlpulse.cli.gather_row import row_at
from whorlpulse.simulate import LineFaults, Scenario, Treadling, scenario, simulate
from whorlpulse.sources.log_folder import logs_below

LOGS = 1000
#: What a guild's logs would be like; of each so many different ones, the rest are copies with a note of their own.
KINDS = ("steady", "faulty-sensors", "three-whorls", "skein-on-plan", "skein-soft", "uneven-magnets", "park-and-draft")
EACH = 6


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else LOGS
    with tempfile.TemporaryDirectory() as top:
        folder, out = Path(top) / "logs", Path(top) / "results.csv"
        size = write_logs(folder, count)
        print(f"{count} simulated logs, {size / 1e6:.1f} MB, {all_cores()} cores; load before {os.getloadavg()[0]:.1f}")
        print(f"processor time of one log, in this process: {processor_ms(folder, min(count, 200)):.1f} ms\n")
        print(f"| {'way':32} | seconds | ms a log |\n| {'-' * 32} | ------- | -------- |")
        one = timed("one process", count, folder, out, "--workers", "1")
        cores = timed("one process for each core", count, folder, out)
        known = timed("again, all known", count, folder, out, keep=True)
        with cluster(Path(top)) as address:
            there = timed("Dask cluster on this machine", count, folder, out, "--on", address)
        print(f"\none process / all cores {one / cores:.2f} · all cores / known {cores / known:.0f}", end="")
        print(f" · Dask / all cores {there / cores:.2f}")


def write_logs(folder: Path, count: int) -> int:
    """Write so many logs with their wheel and plan files below the folder; return the bytes of the logs."""
    made = [simulate(_shorter(scenario(kind), n), seed=n) for kind in KINDS for n in range(EACH)]
    size = 0
    for i in range(count):
        capture = made[i % len(made)]
        place = folder / f"member-{i % 40:02d}" / f"{i:04d}"
        place.mkdir(parents=True)
        data = capture.log + f"# note: log {i} of the benchmark\n".encode()
        if i % 50 == 0:  # the bad ones of every folder: no log at all, or a wheel file that can't be read
            data = bytes(range(256)) * 100
        size += (place / "log.pulses").write_bytes(data)
        for name, text in (("wheel.toml", capture.wheel_toml), ("plan.toml", capture.plan_toml)):
            if text is not None:
                (place / name).write_text(text)
    return size


def _shorter(scene: Scenario, number: int) -> Scenario:
    """Let a scene last as long as it does or less, and lose some lines in every third."""
    if number % 3 == 1:
        scene = replace(scene, line_faults=LineFaults(lost_blocks=(5,), garbled=3))
    if any(not isinstance(phase, Treadling) for phase in scene.phases):
        return scene
    return scene.lasting(scene.duration_s * (0.4 + 0.1 * number))


def processor_ms(folder: Path, count: int) -> float:
    """Return the processor time that a log takes, which what else the machine does hardly changes."""
    places = logs_below(folder).logs[:count]
    row_at(places[1])  # what is loaded once
    began = time.process_time()
    for place in places:
        row_at(place)
    return 1000.0 * (time.process_time() - began) / count


def timed(way: str, count: int, folder: Path, out: Path, *options: str, keep: bool = False) -> float:
    """Run the command as a user does and print how long it took."""
    if not keep:
        out.unlink(missing_ok=True)
    began = time.perf_counter()
    words = [sys.executable, "-m", "whorlpulse", "gather", str(folder), "-o", str(out), *options]
    subprocess.run(words, check=True, stdout=subprocess.DEVNULL)
    took = time.perf_counter() - began
    rows = out.read_bytes().count(b"\r\n") - 1
    assert rows == count, f"{rows} rows of {count} logs"
    print(f"| {way:32} | {took:7.1f} | {1000 * took / count:8.1f} |", flush=True)
    return took


@contextmanager
def cluster(place: Path) -> Iterator[str]:
    """A Dask scheduler and a worker process for each core; its address."""
    import distributed

    file = place / "scheduler.json"
    lines = [
        ["-m", "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0"],
        ["-m", "distributed.cli.dask_worker", "--nworkers", str(all_cores()), "--nthreads", "1", "--host", "127.0.0.1"],
    ]
    lines[1] += ["--local-directory", str(place)]
    started = [
        subprocess.Popen(
            [sys.executable, *line, "--no-dashboard", "--scheduler-file", str(file)],
            stderr=subprocess.DEVNULL,
            env={**os.environ},
        )
        for line in lines
    ]
    try:
        with distributed.Client(scheduler_file=str(file), timeout="30s", set_as_default=False) as client:
            client.wait_for_workers(all_cores(), timeout=30)
            address = client.scheduler.address
        yield address
    finally:
        for process in reversed(started):
            process.terminate()
            process.wait(15)


if __name__ == "__main__":
    main()
