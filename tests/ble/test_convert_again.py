"""`convert` from log to log: two sensors tied afterwards, against the simulated shafts; else refused in a line."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from test_ble_csc_lines import SECONDS, SHAFTS, errors, frames, two_sensors

from whorlpulse.actions.convert import tied_again
from whorlpulse.cli.exits import run
from whorlpulse.wire import Decoder, Meta
from whorlpulse.wire.csc.again import same_lines

HOST = (b"# started: 2026-01-01T00:00:00Z\n", b"# mark: 20000000 the band was moved\n", b"# length: 60000000 1.5 m\n")


def recorded(seed: int, pace_s: float = 1.0) -> tuple[bytes, list]:
    """A log of two simulated sensors, with what the host writes among its lines; and what the sensors sent."""
    sent = two_sensors(seed, pace_s, 0.03)
    lines = same_lines(frames(sent)).splitlines(keepends=True)
    return b"".join([*lines[:4], HOST[0], *lines[4:80], HOST[1], *lines[80:400], HOST[2], *lines[400:]]), sent


def spread_s(log: bytes, sent: list, seed: int) -> float:
    """Standard deviation of the pulse lines' lateness against the truth, the larger of the two shafts'."""
    late = errors(log, sent, dict(zip("wf", SHAFTS(seed, SECONDS), strict=True)))
    return max(float(np.std(values)) for values in late.values())


def test_times_come_nearer_to_the_truth_and_what_the_host_wrote_stays(tmp_path: Path, capsys) -> None:
    before, after = [], []
    for seed in range(1, 6):
        log, sent = recorded(seed)
        (tmp_path / "log.pulses").write_bytes(log)
        assert run(["convert", str(tmp_path / "log.pulses"), "-o", str(tmp_path / "again.pulses"), "--replace"]) == 0
        said = capsys.readouterr().out
        assert re.search(r"within ± \d+(\.\d+)? ms on the log's clock, before ± \d", said)
        made = (tmp_path / "again.pulses").read_bytes()
        assert [line for line in made.splitlines(keepends=True) if line in HOST] == list(HOST)
        assert made.count(b"csc-raw: ") == log.count(b"csc-raw: ")
        before.append(spread_s(log, sent, seed))
        after.append(spread_s(made, sent, seed))
    assert np.mean(after) < 0.8 * np.mean(before)


def test_a_log_tied_again_is_tied_again_to_the_same() -> None:
    made = tied_again(recorded(2)[0])
    assert made is not None
    assert tied_again(made) == made


def test_a_line_of_signs_that_were_no_text_is_kept_as_far_as_it_fits() -> None:
    log, _ = recorded(1)
    odd = b"# note: " + b"\xff" * 4000 + b"\n"
    made = tied_again(log + odd)
    assert made is not None
    notes = [m.value for m in Decoder().feed(made) if isinstance(m, Meta) and m.key == "note"]
    assert len(notes[-1]) == 4000


@pytest.mark.parametrize("why", ["no sensor", "one sensor", "two parts"])
def test_what_cannot_be_tied_is_refused_in_a_line(why: str, tmp_path: Path, capsys) -> None:
    one = same_lines([f for f in frames(two_sensors(1, 1.0, 0.03)) if f.role == "w"])
    log = {"no sensor": b"w,1\nf,2\n", "one sensor": one, "two parts": 2 * recorded(1)[0]}[why]
    (tmp_path / "log.pulses").write_bytes(log)
    assert run(["convert", str(tmp_path / "log.pulses"), "-o", str(tmp_path / "again.pulses")]) == 2
    said = capsys.readouterr().err
    assert "log.pulses is a pulse log already" in said
    assert said.count("\n") == 1
    assert not (tmp_path / "again.pulses").exists()
