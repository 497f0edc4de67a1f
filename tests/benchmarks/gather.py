"""How long `gather` takes for a thousand logs: by one process, by two, on a Dask cluster here, and when all is known.

`python tests/benchmarks/gather.py [--logs 1000] [--rounds 2] [--no-cluster]` prints a table; the logs are simulated,
ten to thirty seconds to a few minutes of spinning each, made once for the run and removed with it. One process and two
take turns, in both orders, so that what else the machine does slows both; how much faster two are is wall-clock time,
and how many cores it really had stands beside it: processor time over wall-clock time.
"""

from __future__ import annotations

import argparse
import ctypes
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

if __package__:
    from tests.benchmarks.measuring import Bar, environment
else:
    from measuring import Bar, environment

from whorlpulse.actions.gather_cores import all_cores
from whorlpulse.cli.gather_row import row_at
from whorlpulse.simulate import LineFaults, Scenario, Treadling, scenario, simulate
from whorlpulse.sources.log_folder import logs_below

LOGS = 1000
_SUBREAPER = 36  # prctl(2)
#: What a guild's logs would be like; of each so many different ones, the rest are copies with a note of their own.
KINDS = ("steady", "faulty-sensors", "three-whorls", "skein-on-plan", "skein-soft", "uneven-magnets", "park-and-draft")
EACH = 6


@dataclass(frozen=True)
class Took:
    """Seconds of one run of the command: by the clock, and of processors, its own and those of its processes."""

    clock_s: float
    processor_s: float

    @property
    def cores(self) -> float:
        """How many cores it had."""
        return self.processor_s / self.clock_s


def by_processes(folder: Path, out: Path, count: int, rounds: int) -> dict[int, list[Took]]:
    """Return what each run took by one process and by two, in turn and each first as often as the other."""
    took: dict[int, list[Took]] = {1: [], 2: []}
    _adopt_orphans()
    for i in range(rounds):
        for workers in (1, 2) if i % 2 == 0 else (2, 1):
            took[workers].append(timed(count, folder, out, "--workers", str(workers)))
    return took


def growth(took: dict[int, list[Took]]) -> tuple[float, float]:
    """Return how much faster two processes are than one, by the clock, and how much more processor time they take."""
    clock, processor = ({n: statistics.median(part(x) for x in t) for n, t in took.items()} for part in _PARTS)
    return clock[1] / clock[2], processor[2] / processor[1]


_PARTS = (lambda x: x.clock_s, lambda x: x.processor_s)


def bars(count: int) -> list[Bar]:
    """Return the lines of the table."""
    with tempfile.TemporaryDirectory() as top:
        folder, out = Path(top) / "logs", Path(top) / "results.csv"
        write_logs(folder, count)
        took = by_processes(folder, out, count, 2)
        known = timed(count, folder, out, keep=True)
    faster, dearer = growth(took)
    each = 1000 * statistics.median(x.processor_s for x in took[1]) / count
    return [
        Bar(f"`gather`, {count} logs of 33 kB: processor time of each", each, "ms"),
        Bar("`gather`: clock of two processes over that of one, in turn", 1 / faster, "x"),
        Bar("`gather`: processor time of two processes over that of one", dearer, "x"),
        Bar("`gather`, all known from before: processor time of each log", 1000 * known.processor_s / count, "ms"),
    ]


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--logs", type=int, default=LOGS)
    parser.add_argument("--rounds", type=int, default=2)
    parser.add_argument("--no-cluster", action="store_true")
    options = parser.parse_args()
    count = options.logs
    with tempfile.TemporaryDirectory() as top:
        folder, out = Path(top) / "logs", Path(top) / "results.csv"
        size = write_logs(folder, count)
        print(f"{count} simulated logs, {size / 1e6:.1f} MB, {all_cores()} cores; load before {os.getloadavg()[0]:.1f}")
        print(f"processor time of one log, in this process: {processor_ms(folder, min(count, 200)):.1f} ms\n")
        print(f"| {'way':32} | seconds | processor | cores | ms a log |")
        print(f"| {'-' * 32} | ------- | --------- | ----- | -------- |")
        took = by_processes(folder, out, count, options.rounds)
        for i in range(options.rounds):
            for workers, name in ((1, "one process"), (2, "two processes")):
                print(row(f"{name}, round {i + 1}", took[workers][i], count), flush=True)
        print(row("again, all known", timed(count, folder, out, keep=True), count), flush=True)
        if not options.no_cluster:
            with cluster(Path(top)) as address:
                print(row("Dask cluster on this machine", timed(count, folder, out, "--on", address), count))
        faster, dearer = growth(took)
        print(
            f"\ntwo processes are {faster:.2f} times as fast as one, and take {dearer:.2f} times its processor time",
            end="",
        )
        print(f"; load after {os.getloadavg()[0]:.1f}")


def row(way: str, took: Took, count: int) -> str:
    """Return a line of the printed table."""
    figures = f"{took.clock_s:7.1f} | {took.processor_s:9.1f} | {took.cores:5.2f} | {1000 * took.clock_s / count:8.1f}"
    return f"| {way:32} | {figures} |"


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


def timed(count: int, folder: Path, out: Path, *options: str, keep: bool = False) -> Took:
    """Run the command as a user does; keep: what an earlier run has measured."""
    if not keep:
        out.unlink(missing_ok=True)
    before, began_s = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    words = [sys.executable, "-m", "whorlpulse", "gather", str(folder), "-o", str(out), *options]
    with subprocess.Popen(words, stdout=subprocess.DEVNULL, env=environment(), start_new_session=True) as command:
        assert command.wait() == 0
    clock_s = time.perf_counter() - began_s
    _await_all(command.pid)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    rows = out.read_bytes().count(b"\r\n") - 1
    assert rows == count, f"{rows} rows of {count} logs"
    return Took(clock_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)


def _adopt_orphans() -> None:
    """Let processes whose parent ends become this one's (Linux), so that what they took can be asked for."""
    ctypes.CDLL(None).prctl(_SUBREAPER, 1, 0, 0, 0)


def _await_all(group: int) -> None:
    """Wait for what is left of a command's processes."""
    while True:
        try:
            os.waitpid(-group, 0)
        except ChildProcessError:
            return


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
