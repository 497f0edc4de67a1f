"""`whorlpulse convert` as it is typed: every kind of recording of one and the same simulated spinning, and back."""

from __future__ import annotations

import csv
import io
import os
import subprocess
import sys

import numpy as np
import pytest
from tests.importers.signals import int16, noisy, ramped, wav_bytes
from vcd import VCDWriter

from whorlpulse.conditioning import condition
from whorlpulse.estimators.ratio import estimate_ratio
from whorlpulse.logfile import read_log
from whorlpulse.rig import Rig

RATIO, RATE_HZ = 6.21, 44100


@pytest.fixture(scope="module")
def spun():
    """Simulated: one minute of treadling at 66 wheel turns a minute; passage times of wheel and flyer, in seconds."""
    t_s = np.linspace(0, 60, 600_001)
    speed = 1.1 * (1 + 0.08 * np.sin(2 * np.pi * 1.1 * t_s) + 0.03 * np.sin(0.5 * t_s))
    wheel = np.concatenate(([0], np.cumsum((speed[1:] + speed[:-1]) / 2 * np.diff(t_s))))
    flyer = RATIO * wheel + 0.3
    return tuple(np.interp(np.arange(1, np.floor(x[-1])), x, t_s) for x in (wheel, flyer))


def wav_file(spun):
    t_s = np.arange(61 * RATE_HZ) / RATE_HZ
    rng = np.random.default_rng(1)
    sides = [0.5 * noisy(ramped(t_s, at, 1e-3, 0.01), rng, 40) for at in spun]
    return wav_bytes(RATE_HZ, int16(np.stack(sides, axis=1)))


def vcd_file(spun):
    file = io.StringIO()
    with VCDWriter(file, timescale="1 us") as writer:
        lines = [writer.register_var("probe", name, "wire", size=1, init=0) for name in ("wheel", "flyer")]
        edges = [(round(1e6 * (t + d)), i, 1 - d // 0.01) for i, at in enumerate(spun) for t in at for d in (0, 0.01)]
        for tick, i, level in sorted(edges):
            writer.change(lines[i], tick, int(level))
    return file.getvalue().encode()


def csv_file(spun):
    rows = sorted([(t, "wheel") for t in spun[0]] + [(t, "flyer") for t in spun[1]])
    return ("time_ms;shaft\n" + "".join(f"{1000 * t:.3f};{c}\n" for t, c in rows).replace(".", ",")).encode()


def run(*words, stdin=b""):
    command = [sys.executable, "-m", "whorlpulse", "convert", *map(str, words)]
    return subprocess.run(command, capture_output=True, input=stdin, timeout=120)


def one_line(done, code):
    assert done.returncode == code
    assert done.stdout == b""
    lines = done.stderr.decode().splitlines()
    assert len(lines) == 1
    return lines[0]


@pytest.mark.parametrize(("ending", "make"), [("wav", wav_file), ("vcd", vcd_file), ("csv", csv_file)])
def test_the_ratio_of_a_converted_recording(tmp_path, spun, ending, make):
    source, log = tmp_path / f"spun.{ending}", tmp_path / "spun.pulses"
    source.write_bytes(make(spun))
    done = run(source)
    assert done.returncode == 0, done.stderr
    assert b"guessed" in done.stdout
    found = read_log(lambda: [log.read_bytes()])
    assert (found.rows.channel == ord("w")).sum() == len(spun[0])
    assert (found.rows.channel == ord("f")).sum() == len(spun[1])
    assert (found.tally.lost, found.tally.malformed_lines, found.tally.bad_checksum) == (0, 0, 0)
    header = found.header
    assert any(e.key == "note" and "guessed" in e.value for e in header.entries)
    rig = Rig(tick_hz=header.tick_hz, tick_bits=header.tick_bits)
    ratio = estimate_ratio(condition(found.rows, rig), header.tick_hz).ratio
    assert ratio.value == pytest.approx(RATIO, rel=2e-4)  # the bar for a clean minute: 0.02 %


def test_to_a_table_and_back(tmp_path, spun):
    log, table, again = tmp_path / "a.pulses", tmp_path / "a.csv", tmp_path / "b.pulses"
    (tmp_path / "a.vcd").write_bytes(vcd_file(spun))
    assert run(tmp_path / "a.vcd", "-o", log, "--targets", "w=1,f=1").returncode == 0
    assert read_log(lambda: [log.read_bytes()]).header.targets["w"] == 1
    assert run(log, "-o", table).returncode == 0
    rows = list(csv.DictReader(io.StringIO(table.read_text())))
    assert list(rows[0]) == ["time_s", "channel", "count", "flags", "run"]
    assert [float(r["time_s"]) for r in rows] == sorted(float(r["time_s"]) for r in rows)
    wheel = [float(r["time_s"]) for r in rows if r["channel"] == "w"]
    assert wheel == pytest.approx(spun[0].tolist(), abs=1e-6)
    assert {r["run"] for r in rows if not r["flags"]} == {"1"}
    assert run(table, "-o", again).returncode == 0
    first, second = (read_log(lambda p=p: [p.read_bytes()]).rows for p in (log, again))
    assert second.tick.tolist() == first.tick[first.channel != ord("k")].tolist()


def test_flags_counts_and_runs_in_the_table(tmp_path):
    """Steady treadling with one flyer pulse missed and one bounced, a stop of 20 s, and treadling again."""
    flyer = np.concatenate([np.arange(0, 30, 0.2), np.arange(50, 80, 0.2)]) + 0.05
    wheel = np.concatenate([np.arange(0, 30, 1.2), np.arange(50, 80, 1.2)]) + 0.1
    flyer = np.sort(np.append(np.delete(flyer, 60), flyer[100] + 0.002))
    lines = sorted([(t, "f") for t in flyer] + [(t, "w") for t in wheel])
    text = "# tick_bits: 0\n" + "".join(f"{c},{round(1e6 * t)}\n" for t, c in lines)
    done = run("-", "-o", "-", "--kind", "log", stdin=text.encode())
    assert done.returncode == 0, done.stderr
    rows = list(csv.DictReader(io.StringIO(done.stdout.decode())))
    assert len(rows) == len(lines) + 1
    (bounce,) = [r for r in rows if r["flags"] == "bounce"]
    (filled,) = [r for r in rows if r["flags"] == "filled"]
    assert float(bounce["time_s"]) == pytest.approx(100 * 0.2 + 0.002, abs=1e-6)
    assert float(filled["time_s"]) == pytest.approx(60 * 0.2, abs=0.01)
    assert {r["run"] for r in rows if float(r["time_s"]) < 31} == {"1"}
    assert {r["run"] for r in rows if float(r["time_s"]) > 49} == {"2"}
    back = run("-", "-o", "-", "--kind", "csv", stdin=done.stdout).stdout
    assert sum(line[:2] in (b"w,", b"f,") for line in back.splitlines()) == len(lines)  # without the one put in


def test_standard_input_to_standard_output():
    done = run("-", stdin=b"0.1,w\n0.2,f\n0.3,f\n")
    assert done.returncode == 0
    assert b"w,100000,0*46\n" in done.stdout
    assert b"guessed" in done.stderr
    back = run("-", stdin=done.stdout)
    assert b"time_s,channel,count,flags,run" in back.stdout


def test_channels_in_all_their_spellings(tmp_path, spun):
    (tmp_path / "a.wav").write_bytes(wav_file(spun))
    for pairs in ("left=f,right=w", "f=left w=right", "1=f; 2=w"):
        done = run(tmp_path / "a.wav", "--channels", pairs, "-o", "-")
        assert f"f {len(spun[0])}" in done.stderr.decode()
    (tmp_path / "a.vcd").write_bytes(vcd_file(spun))
    done = run(tmp_path / "a.vcd", "--channels", "w=probe.flyer f=wheel", "-o", "-")
    assert f"f {len(spun[0])}" in done.stderr.decode()


def test_nothing_is_overwritten(tmp_path):
    source, log = tmp_path / "a.csv", tmp_path / "a.pulses"
    source.write_text("0.1,w\n0.2,f\n0.3,f\n")
    log.write_text("w,1\n")
    assert "exists already" in one_line(run(source), 2)
    assert log.read_text() == "w,1\n"
    assert "file to convert itself" in one_line(run(source, "-o", source, "--kind", "csv", "--replace"), 2)
    assert run(source, "--replace").returncode == 0
    assert "f,300000" in log.read_text()
    assert sorted(os.listdir(tmp_path)) == ["a.csv", "a.pulses"]


@pytest.mark.parametrize(
    ("name", "data", "words", "code", "says"),
    [
        ("a.wav", b"RIFF____WAVE", [], 2, "no samples"),
        ("a.wav", wav_bytes(8000, np.zeros(8000, np.int16)), [], 1, "no pulse stands out"),
        ("a.vcd", b"$timescale 1 us $end $enddefinitions $end", [], 2, "no signal that is named"),
        ("a.csv", b"nothing here\n", [], 2, "no column of times"),
        ("a.csv", b"0.1,w\n0.2,f\n", ["--channels", "w"], 2, "left=w,right=f"),
        ("a.csv", b"0.1,w\n0.2,f\n", ["--channels", "w=1,w=2"], 2, "each shaft once"),
        ("a.csv", b"0.1,w\n0.2,f\n", ["--time-unit", "h"], 2, "s, ms, us or ns"),
        ("a.csv", b"0.1,w\n0.2,f\n", ["--kind", "mp3"], 2, "wav, vcd, csv or log"),
        ("a.csv", b"0.1,w\n0.2,f\n", ["--targets", "w=0"], 2, "targets per turn"),
        ("a.csv", b"0.1,w\n0.2,f\n", ["-o", "b.csv"], 2, "pulse log first"),
        ("a.pulses", b"w,1\nf,2\n", ["-o", "b.pulses"], 2, "pulse log already"),
        ("a.pulses", b"\0\1\2\3", [], 2, "no pulse log"),
        ("a.pulses", b"# note: nothing\n", [], 1, "no pulse line"),
    ],
)
def test_what_goes_wrong_is_one_line(tmp_path, name, data, words, code, says):
    (tmp_path / name).write_bytes(data)
    assert says in one_line(run(tmp_path / name, *words), code)
    assert os.listdir(tmp_path) == [name]


def test_a_missing_file():
    assert "is not there" in one_line(run("nowhere.wav"), 2)
