"""The compiled loop reads every log as the columns do, takes nearly all lines itself, and is missed by nobody."""

from __future__ import annotations

import random
import subprocess
import sys
from functools import reduce
from operator import xor
from pathlib import Path

import numpy as np
import pytest

import both_ways
from whorlpulse import compiled
from whorlpulse.logfile import LogReader, read_log
from whorlpulse.wire.decoder import LineJudge

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "fuzz"))

from targets import CORPUS, TARGETS

KEPT = [(target, path) for target in ("decoder", "log") for path in sorted((CORPUS / target).iterdir())]


def a_log(lines: int, style: str, end: bytes = b"\n") -> tuple[bytes, np.ndarray, np.ndarray, np.ndarray]:
    """Return a log's bytes and the ticks, channels and counts that it was made from."""
    dice = random.Random(style)
    made, text = [], []
    for number in range(lines):
        tick, letter = 1000 + 17 * number + dice.randrange(17), dice.choice("wffffkbyx")
        count = dice.choice([1, 1, 1, 5]) if "n" in style else 1
        line = f"{letter},{tick}" + f",{(number + 65_000) % 65_536}" * ("s" in style) + f",{count}" * ("n" in style)
        body = line.encode()
        text.append(body + (b"*%02X" % reduce(xor, body) if "h" in style else b"") + end)
        made.append((tick, ord(letter), count))
    tick, channel, count = (np.array(column) for column in zip(*made, strict=True))
    return b"".join(text), tick, channel, count


@pytest.mark.parametrize("style", ["", "h", "s", "sh", "sn", "snh"])
@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_lines_of_every_shape_are_read_as_made_and_not_one_by_one(style, end, monkeypatch):
    data, tick, channel, count = a_log(150_000, style, end)
    judged = []
    judge = LineJudge.judge
    monkeypatch.setattr(LineJudge, "judge", lambda self, text: judged.append(text) or judge(self, text))
    with both_ways.taken("compiled"):
        log = read_log(lambda: (data[at : at + 100_003] for at in range(0, len(data), 100_003)))
    np.testing.assert_array_equal(log.rows.tick, tick)
    np.testing.assert_array_equal(log.rows.channel, channel)
    np.testing.assert_array_equal(log.rows.count_row, np.flatnonzero(count != 1))
    np.testing.assert_array_equal(log.rows.count_value, count[count != 1])
    assert (log.tally.total, log.tally.lost, log.tally.malformed_lines) == (150_000, 0, 0)
    assert (log.tally.keep_alives, log.tally.overruns) == (np.sum(channel == ord("k")), np.sum(channel == ord("x")))
    assert len(judged) <= 1  # the first number has none before it


@pytest.mark.parametrize(("target", "path"), KEPT, ids=[f"{t}-{p.name}" for t, p in KEPT])
def test_what_fuzzing_kept_reads_alike_with_the_compiled_loop(target, path):
    check = TARGETS[target]
    with both_ways.taken("compiled"):
        check(path.read_bytes())


def test_a_log_that_becomes_large_changes_over_in_the_middle():
    data, tick, *_ = a_log(60_000, "sh")
    hurt = bytearray(data)
    for at in range(2_000, len(data), 40_000):
        hurt[at] ^= 1
    with both_ways.taken("numpy"):
        want = read_log(lambda: [bytes(hurt)])
    with both_ways.taken("compiled"), pytest.MonkeyPatch.context() as patch:
        patch.setattr(compiled, "_loaded", set())
        patch.setattr(compiled, "LARGE", 30_000)
        reader = LogReader()
        reader.feed(bytes(hurt))
        assert reader._one_pass is not None
        got = reader.finish()
    assert want.tally == got.tally
    for name in ("tick", "channel", "gap_row", "gap_lines"):
        np.testing.assert_array_equal(getattr(got.rows, name), getattr(want.rows, name))
    np.testing.assert_array_equal(got.gap_line, want.gap_line)
    assert want.tally.bad_checksum + want.tally.malformed_lines > 20
    assert len(got.rows) < len(tick)


@pytest.mark.parametrize("fault", ["not installed", "broken", "switched off"])
def test_without_numba_or_with_a_broken_one_logs_read_as_ever(fault, monkeypatch):
    class Broken:
        def __getattr__(self, name: str) -> object:
            raise OSError("a library is missing")

    if fault == "switched off":
        monkeypatch.setattr(pytest.importorskip("numba").config, "DISABLE_JIT", 1)
    else:
        monkeypatch.setitem(sys.modules, "numba", None if fault == "not installed" else Broken())
    monkeypatch.setattr(compiled, "LARGE", 0)
    monkeypatch.setattr(compiled, "_loaded", set())
    compiled._compiled.cache_clear()
    try:
        assert all(compiled.kernel(name, 1 << 30) is None for name in compiled.KERNELS)
        data, tick, *_ = a_log(3_000, "sh")
        np.testing.assert_array_equal(read_log(lambda: [data]).rows.tick, tick)
    finally:
        compiled._compiled.cache_clear()


def test_only_a_large_log_loads_numba(tmp_path):
    log = tmp_path / "log.pulses"
    log.write_bytes(a_log(20_000, "sh")[0])
    code = (
        "import sys; from whorlpulse import compiled; from whorlpulse.logfile import read_log; "
        "from whorlpulse.conditioning.chain import condition; from whorlpulse.rig import Rig; "
        "compiled.LARGE = int(sys.argv[2]); data = open(sys.argv[1], 'rb').read(); "
        "condition(read_log(lambda: [data]).rows, Rig()); print('numba' in sys.modules)"
    )

    def loads(large: int) -> str:
        return subprocess.run(
            [sys.executable, "-c", code, str(log), str(large)], check=True, capture_output=True, text=True
        ).stdout.strip()

    assert loads(compiled.LARGE) == "False"
    with both_ways.taken("compiled"):
        assert loads(10_000) == "True"
