"""A bounded run of the fuzzer on every target; docs/reliability.md says what the long ones found."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from targets import TARGETS

from tools import require

HERE = Path(__file__).resolve().parent
#: Bytes of a bounded run and its longest time; the slow target is bounded by time.
BYTES, SECONDS = 300_000, 4
#: What reads a target's bytes, and must guide the fuzzer.
READ_BY = {
    "decoder": ("wire.sequence", "wire.grammar"),
    "log": ("logfile.bulk", "logfile.stretch", "wire.sequence"),
    "wav": ("importers.wav",),
    "vcd": ("importers.vcd",),
    "csv": ("importers.csv", "importers.csv_table"),
    "wheel": ("cli.wheel_file",),
    "plan": ("cli.plan_file", "actions.reckon_plan"),
    "payload": ("wire.csc.counts",),
    "csc": ("wire.csc.lines",),
    "answers": ("conditioning.chain", "estimators.ratio", "findings.rules"),
}


@pytest.mark.parametrize("target", TARGETS)
def test_no_input_breaks_the_property(target: str, tmp_path: Path) -> None:
    require("atheris (the extra 'fuzz')", lambda: importlib.util.find_spec("atheris") is not None)
    words = [str(HERE / "fuzz.py"), target, "--bytes", str(BYTES), "--seconds", str(SECONDS), "--keep", str(tmp_path)]
    paths = [str(Path(p).resolve()) for p in sys.path if p]
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}
    ran = subprocess.run([sys.executable, *words], capture_output=True, text=True, timeout=180, check=False, env=env)
    crashes = {path.name: path.read_bytes()[:2000] for path in tmp_path.glob("crash-*")}
    assert ran.returncode == 0, f"{crashes}\n{ran.stdout[-3000:]}\n{ran.stderr[-3000:]}"
    told = json.loads(ran.stdout.splitlines()[-1])
    assert told["target"] == target
    assert told["inputs"] > 0
    for module in READ_BY.get(target, ()):
        assert f"Instrumenting whorlpulse.{module}\n" in ran.stderr, "the fuzzer does not see its branches"


def test_the_fuzzer_ends_with_the_input_that_broke_a_property(tmp_path: Path) -> None:
    require("atheris (the extra 'fuzz')", lambda: importlib.util.find_spec("atheris") is not None)
    broken = (
        "import sys; sys.argv = ['fuzz.py', 'payload', '--bytes', '1e6', '--seconds', '60', '--keep', sys.argv[1]]\n"
        f"sys.path.insert(0, {str(HERE)!r})\n"
        "import fuzz, targets\n"
        "def wrong(data): assert b'\\x07' not in data\n"
        "targets.TARGETS['payload'] = wrong\n"
        "fuzz.main()\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", broken, str(tmp_path)], capture_output=True, text=True, timeout=120, check=False
    )
    assert ran.returncode != 0
    (crash,) = tmp_path.glob("crash-*")
    assert b"\x07" in crash.read_bytes()
