"""The same function on a Dask cluster: the same rows, and clusters that can't be used are said to be."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Thread

import deadly
import distributed
import pytest
from guilds import SAMPLES, rows_of

from whorlpulse.actions.gather_cluster import Cluster
from whorlpulse.cli.gather_row import row_of_files, unmeasured
from whorlpulse.sources.files import SourceError
from whorlpulse.sources.log_folder import LogPlace, logs_below

HERE = Path(__file__).resolve().parent


@contextmanager
def started(place: Path, first: Path = HERE) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """A scheduler and two workers, each a process of its own as on a cluster; the address, and the scheduler.

    first: where the processes look for modules before all else.
    """
    file = place / "scheduler.json"
    scheduler = ["-m", "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard"]
    # a log whose workers die twice is given up, as a busy cluster would after three times
    path = os.pathsep.join([str(first), *filter(None, [os.environ.get("PYTHONPATH")])])
    env = {"PYTHONPATH": path, "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "1"}
    worker = ["-m", "distributed.cli.dask_worker", "--nworkers", "2", "--nthreads", "1", "--no-dashboard"]
    lines = [
        [*scheduler, "--scheduler-file", str(file)],
        [*worker, "--host", "127.0.0.1", "--scheduler-file", str(file), "--local-directory", str(place)],
    ]
    silent = {"env": {**os.environ, **env}, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    processes = [subprocess.Popen([sys.executable, *line], **silent) for line in lines]
    try:
        with distributed.Client(scheduler_file=str(file), timeout="30s", set_as_default=False) as client:
            client.wait_for_workers(2, timeout=30)
            address = client.scheduler.address
        yield address, processes[0]
    finally:
        for process in reversed(processes):
            process.terminate()
            process.wait(15)


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a cluster's scheduler."""
    with started(tmp_path_factory.mktemp("cluster")) as (address, _):
        yield address


def test_a_cluster_gives_the_rows_that_this_machine_gives(cluster, gather, tmp_path):
    here, there = tmp_path / "here.jsonl", tmp_path / "there.jsonl"
    assert gather(SAMPLES, "-o", here).code == 0
    ran = gather(SAMPLES, "-o", there, "--on", cluster)
    assert ran.code == 0, ran.err
    assert len(rows_of(there)) == len(list(SAMPLES.rglob("*.pulses")))
    assert there.read_bytes() == here.read_bytes()


def test_workers_need_no_common_disk_and_a_log_that_goes_away_is_a_row(cluster, tmp_path):
    (tmp_path / "a").mkdir()
    log = tmp_path / "a" / "log.pulses"
    log.write_bytes((SAMPLES / "steady-minute-and-a-half" / "log.pulses").read_bytes())
    (place,) = logs_below(tmp_path).logs
    gone = LogPlace(str(tmp_path), "b/log.pulses")
    rows = {row.log: row for row in Cluster(cluster, row_of_files, unmeasured, deadly.late).rows([place, gone])}
    assert rows["a/log.pulses"].state == "measured"
    assert rows["b/log.pulses"].state == "unreadable"
    assert "is not there" in (rows["b/log.pulses"].why or "")


def test_a_log_that_takes_too_long_is_a_row_and_its_worker_goes_on(cluster, tmp_path):
    for name in ("a", "endless-1", "b", "endless-2", "c", "slow"):
        (tmp_path / f"{name}.pulses").write_text("w,1\n")
    found = logs_below(tmp_path).logs
    measured = Cluster(cluster, deadly.row_or_death_of_files, unmeasured, deadly.late, limit_s=3.0).rows(found)
    states = {row.log.removesuffix(".pulses"): row.why for row in measured}
    assert states == {"a": None, "b": None, "c": None, "slow": None, "endless-1": "late", "endless-2": "late"}


def test_workers_that_die_lose_that_log_only(cluster, tmp_path):
    for name in ("a", "b", "die", "c", "d"):
        (tmp_path / f"{name}.pulses").write_text("w,1\n")
    found = logs_below(tmp_path).logs
    rows = list(Cluster(cluster, deadly.row_or_death_of_files, unmeasured, deadly.late).rows(found))
    states = {row.log: row.state for row in rows}
    assert states == {f"{n}.pulses": "failed" if n == "die" else "measured" for n in ("a", "b", "c", "d", "die")}


def test_a_scheduler_that_goes_away_ends_it_with_a_line_and_what_was_measured_is_there(tmp_path, gather):
    for i in range(30):
        place = tmp_path / "logs" / f"{i:02d}"
        place.mkdir(parents=True)
        (place / "log.pulses").write_bytes((SAMPLES / "every-line-fault" / "log.pulses").read_bytes())
    out = tmp_path / "r.csv"
    journal = tmp_path / "r.csv.unfinished.jsonl"
    with started(tmp_path) as (address, scheduler):

        def end_it() -> None:
            end = time.monotonic() + 30.0
            while not (journal.exists() and journal.stat().st_size) and time.monotonic() < end:
                time.sleep(0.02)
            scheduler.kill()

        killer = Thread(target=end_it)
        killer.start()
        ran = gather(tmp_path / "logs", "-o", out, "--on", address)
        killer.join()
    assert ran.code == 2
    assert ran.err.startswith(f"whorlpulse: {address}: the scheduler is gone")
    assert len(ran.err.splitlines()) == 1
    with open(out) as file:
        states = [row["state"] for row in csv.DictReader(file)]
    assert 1 <= len(states) < 30
    assert set(states) == {"measured"}
    assert not journal.exists()


def test_no_scheduler_no_workers_another_version(cluster, gather, tmp_path, monkeypatch):
    began = time.monotonic()
    ran = gather(SAMPLES, "-o", tmp_path / "r.csv", "--on", "tcp://127.0.0.1:1")
    assert ran.code == 2
    assert "no Dask scheduler answers" in ran.err
    assert len(ran.err.splitlines()) == 1
    assert time.monotonic() - began < 20.0
    assert gather(SAMPLES, "-o", tmp_path / "r.csv", "--on", "what ever").code == 2
    monkeypatch.setattr("whorlpulse.actions.gather_cluster.__version__", "9.9.9")
    places = logs_below(SAMPLES).logs
    with pytest.raises(SourceError, match=r"here is 9\.9\.9"):
        list(Cluster(cluster, row_of_files, unmeasured, deadly.late).rows(places))


def test_workers_without_the_program_are_told_of(gather, tmp_path):
    hidden = tmp_path / "hidden"
    hidden.mkdir()
    (hidden / "whorlpulse.py").write_text("raise ModuleNotFoundError(\"No module named 'whorlpulse'\")\n")
    with started(tmp_path, hidden) as (address, _):
        ran = gather(SAMPLES, "-o", tmp_path / "r.csv", "--on", address)
    assert ran.code == 2
    assert "a worker has no whorlpulse: install whorlpulse" in ran.err
    assert len(ran.err.splitlines()) == 1
    assert not list(tmp_path.glob("r.*"))


def test_without_dask_it_says_what_to_install(gather, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    ran = gather(SAMPLES, "-o", tmp_path / "r.csv", "--on", "tcp://127.0.0.1:1")
    assert ran.code == 2
    assert "pip install 'whorlpulse[dask]'" in ran.err
