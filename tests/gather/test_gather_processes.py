"""Processes that measure: one that dies takes only its own log along, Ctrl-C and kill leave what there is."""

from __future__ import annotations

import csv
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import deadly
import pytest
from guilds import SAMPLES, rows_of

from whorlpulse.actions.gather_cores import Cores
from whorlpulse.actions.gather_limit import row_within
from whorlpulse.sources.log_folder import LogPlace


def places(*names: str) -> list[LogPlace]:
    return [LogPlace("/nowhere", name) for name in names]


@pytest.mark.parametrize("workers", [1, 2, 4])
def test_a_process_that_dies_loses_its_own_log_only(workers):
    names = ["a", "b", "die-1", "c", "slow", "d", "die-2", "e", "f", "g"]
    rows = list(Cores(deadly.row_or_death, deadly.lost, deadly.late, workers).rows(places(*names)))
    assert sorted(row.log for row in rows) == sorted(names)
    assert {row.log: row.state for row in rows} == {n: "failed" if "die" in n else "measured" for n in names}


@pytest.mark.parametrize("workers", [1, 2])
def test_a_log_that_takes_too_long_is_a_row_and_the_rest_goes_on(workers):
    """One that Python can break off, and one that it can't: a call that does not return."""
    names = ["a", "endless-1", "b", "stuck", "c", "slow", "endless-2", "d"]
    began = time.monotonic()
    rows = list(Cores(deadly.row_or_death, deadly.lost, deadly.late, workers, limit_s=2.0).rows(places(*names)))
    assert time.monotonic() - began < 45.0  # not the 60 s of the one that is stuck
    assert sorted(row.log for row in rows) == sorted(names)
    late = {"endless-1", "endless-2", "stuck"}
    assert {row.log: row.why for row in rows} == {n: "late" if n in late else None for n in names}


def test_a_measurement_that_ends_in_time_is_left_alone():
    """Many that end about when the limit does: each is a row or late, and nothing comes after it."""
    place, seen = LogPlace("/nowhere", "a"), set()
    for i in range(200):
        ends = time.perf_counter() + 0.001 * (i % 20)  # a busy loop lets others in each 5 ms

        def measure(where, ends=ends):
            while time.perf_counter() < ends:
                pass
            return deadly.row_or_death(where)

        row = row_within(0.002, measure, place)
        sum(range(20_000))  # what was on its way would come here
        seen.add(row is None)
    assert seen == {True, False}


_TRACED = """
import sys
from whorlpulse.actions.gather_limit import row_within
for limit_s in (60.0, 0.01):
    print(row_within(limit_s, lambda place: sum(range(place)) or True, 10**6))
    print(row_within(limit_s, lambda place: [None for _ in iter(int, 1)] if limit_s < 1 else place, 7))
sys.settrace(lambda frame, event, arg: None)
print((lambda: "traced")())
"""


def test_a_process_that_had_a_limit_can_be_traced():
    """Debuggers and coverage tools trace; an interpreter left looking for an exception would stand still there."""
    done = subprocess.run([sys.executable, "-c", _TRACED], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.split()[-1] == "traced"
    assert done.stdout.split()[1] == "7"
    assert done.stdout.split()[-2] == "None"


def test_without_logs_no_process_is_begun():
    assert list(Cores(deadly.row_or_death, deadly.lost, deadly.late, 2).rows([])) == []


@pytest.fixture
def many(tmp_path: Path) -> Path:
    """Thirty logs: some seconds' work."""
    top = tmp_path / "many"
    for i in range(30):
        place = top / f"{i:02d}"
        place.mkdir(parents=True)
        for name in ("log.pulses", "wheel.toml"):
            shutil.copy(SAMPLES / "every-line-fault" / name, place / name)
        with open(place / "log.pulses", "ab") as log:
            log.write(f"\n# note: {i}\n".encode())  # each one its own
    return top


class Running:
    """`gather` as a user runs it, in a process group of its own so that it can be signalled as by a terminal."""

    def __init__(self, folder: Path, out: Path) -> None:
        words = [sys.executable, "-m", "whorlpulse", "gather", str(folder), "-o", str(out), "--workers", "2"]
        self.out, self.journal = out, out.with_name(f"{out.name}.unfinished.jsonl")
        self.process = subprocess.Popen(
            words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True, text=True
        )

    def await_rows(self, count: int, within_s: float = 30.0) -> None:
        end = time.monotonic() + within_s
        while not (self.journal.exists() and self.journal.read_bytes().count(b"\n") >= count):
            assert time.monotonic() < end, "no rows came"
            assert self.process.poll() is None, "it was over before it could be stopped"
            time.sleep(0.02)

    def group(self) -> list[int]:
        """The processes that belong to it."""
        found = []
        for stat in Path("/proc").glob("[0-9]*/stat"):
            try:
                fields = stat.read_text().rsplit(")", 1)[1].split()
            except OSError:
                continue
            if int(fields[2]) == self.process.pid and fields[0] != "Z":
                found.append(int(stat.parent.name))
        return found

    def await_end_of_all(self, within_s: float = 10.0) -> None:
        end = time.monotonic() + within_s
        while self.group():
            assert time.monotonic() < end, f"left behind: {self.group()}"
            time.sleep(0.05)

    def __enter__(self) -> Running:
        return self

    def __exit__(self, *_: object) -> None:
        for pid in self.group():
            os.kill(pid, signal.SIGKILL)
        self.process.communicate()


@pytest.mark.parametrize("by_terminal", [True, False])
def test_ctrl_c_leaves_a_usable_table_and_the_next_run_goes_on(many, tmp_path, gather, by_terminal):
    out = tmp_path / "r.jsonl"
    with Running(many, out) as running:
        running.await_rows(3)
        if by_terminal:
            os.killpg(running.process.pid, signal.SIGINT)
        else:
            running.process.send_signal(signal.SIGINT)
        said, complaint = running.process.communicate(timeout=15)
        assert running.process.returncode == 130
        assert complaint == ""
        running.await_end_of_all()
    rows = rows_of(out)
    assert 3 <= len(rows) < 30
    assert all(row["state"] == "measured" for row in rows.values())
    assert f"Stopped with {30 - len(rows)} logs still to measure" in " ".join(said.split())
    assert not running.journal.exists()
    told = gather(many, "-o", out, "--json").json
    assert (told["known_before"], told["measured_now"]) == (len(rows), 30 - len(rows))
    assert len(rows_of(out)) == 30


def test_after_kill_nine_no_process_stays_and_the_rows_are_taken_over(many, tmp_path, gather):
    out = tmp_path / "r.csv"
    with Running(many, out) as running:
        running.await_rows(3)
        running.process.kill()
        running.process.wait(10)
        running.await_end_of_all()
    assert not out.exists()
    whole = running.journal.read_bytes().count(b"\n")
    assert whole >= 3
    told = gather(many, "-o", out, "--json").json
    assert (told["known_before"], told["measured_now"]) == (whole, 30 - whole)
    with open(out, newline="") as file:
        logs = [row["log"] for row in csv.DictReader(file)]
    assert logs == [f"{i:02d}/log.pulses" for i in range(30)]  # none lost, none twice
    assert not running.journal.exists()


def test_killed_again_and_again_it_ends_with_the_table_of_one_run(many, tmp_path, gather):
    """Each run begins with what the killed ones had, tears the journal at any byte, and the table is the same bytes."""
    out, whole = tmp_path / "r.csv", tmp_path / "whole.csv"
    before = 0
    for _ in range(3):
        with Running(many, out) as running:
            running.await_rows(before + 2)
            running.process.kill()
            running.process.wait(10)
            running.await_end_of_all()
        kept = running.journal.read_bytes()
        last = kept.splitlines()[-1]
        running.journal.write_bytes(kept[: -len(last)] + last[:20])  # as a machine that stops would leave it
        before = running.journal.read_bytes().count(b'"state":"measured"')
        assert before >= 1
    told = gather(many, "-o", out, "--json").json
    assert (told["known_before"], told["rows"]) == (before, 30)
    assert gather(many, "-o", whole).code == 0
    assert out.read_bytes() == whole.read_bytes()


def test_the_command_says_which_log_took_too_long_and_tries_it_again(tmp_path, gather):
    """A hundred days of spinning, against a limit in which the shell would hardly begin."""
    top = tmp_path / "logs"
    for name in ("day", "minute"):
        (top / name).mkdir(parents=True)
    shutil.copy(SAMPLES / "steady-minute-and-a-half" / "log.pulses", top / "minute")
    lines = 3_000_000
    with open(top / "day" / "log.pulses", "wb") as log:
        log.write(b"# targets: w=1 f=1\n")
        log.writelines(b"%b,%d\n" % (b"w" if i % 9 == 0 else b"f", 11_000 * i & 0xFFFFFFFF) for i in range(lines))
    out = tmp_path / "r.jsonl"
    ran = gather(top, "-o", out, "--limit", "0.7 s", "--workers", "1")
    assert ran.code == 0
    rows = rows_of(out)
    assert rows["minute/log.pulses"]["state"] == "measured"
    assert rows["day/log.pulses"]["state"] == "failed"
    assert rows["day/log.pulses"]["why"].startswith("took longer than 0.7 s")
    assert "took longer than 0.7 s" in " ".join(ran.out.split())
    (top / "day" / "log.pulses").write_bytes((top / "minute" / "log.pulses").read_bytes() + b"# note: shorter\n")
    told = gather(top, "-o", out, "--limit", "5 min", "--json").json
    assert (told["known_before"], told["measured_now"]) == (1, 1)
    assert rows_of(out)["day/log.pulses"]["state"] == "measured"


@pytest.mark.parametrize("given", ["", "0 s", "-1 s", "10", "ten min", "1e3 s", "9999 h", "5 min 3 s"])
def test_a_limit_that_is_no_time_is_said_in_one_line(many, tmp_path, gather, given):
    ran = gather(many, "-o", tmp_path / "r.csv", "--limit", given)
    assert ran.code == 2
    assert f"--limit {given!r}" in ran.err
    assert len(ran.err.splitlines()) == 1
    assert list(tmp_path.iterdir()) == [many]
