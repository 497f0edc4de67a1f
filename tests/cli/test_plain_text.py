"""Text and flags reach a command as they were typed; what typer validates values with is not loaded for them."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

LOG = Path(__file__).resolve().parents[2] / "sample-captures" / "steady-minute-and-a-half" / "log.pulses"
TYPED = (
    "import sys\nfrom whorlpulse.cli.exits import run\nwords = {words!r}\ncode = run(words)\n"
    "print('pydantic' in sys.modules, file=sys.stderr)\nsys.exit(code)"
)


def loads_a_validator(*words: str) -> bool:
    ran = subprocess.run(
        [sys.executable, "-c", TYPED.format(words=list(words))], capture_output=True, text=True, check=True
    )
    said = ran.stderr.split()
    assert said[-1] in ("True", "False")
    return said[-1] == "True"


def test_a_short_log_is_measured_without_loading_a_validator():
    assert not loads_a_validator("--help")
    assert not loads_a_validator("ratio", str(LOG), "--targets", "w=1 f=1", "--json")
    assert not loads_a_validator("cadence", str(LOG), "--json")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["survey", "x.pulses", "--cadence", "fast"], "cadence"),
        (["plan", "--cadence", "0"], "cadence"),
        (["gather", "logs", "-o", "r.csv", "--workers", "two"], "workers"),
    ],
)
def test_a_number_is_validated_all_the_same(whorlpulse, words, says):
    ran = whorlpulse(*words)
    assert ran.code == 2
    assert says in ran.err
    assert len(ran.err.splitlines()) == 1


def test_text_that_is_empty_or_missing_is_said_in_one_line(whorlpulse):
    ran = whorlpulse("ratio", "")
    assert ran.code == 2
    assert len(ran.err.splitlines()) == 1
    ran = whorlpulse("ratio")
    assert ran.code == 2
    assert "LOG" in ran.err


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere every file name is Unicode")
def test_a_file_name_that_is_no_unicode_is_a_file_name(tmp_path):
    name = os.path.join(os.fsencode(tmp_path), b"log-\xff.pulses")
    with open(name, "wb") as file:
        file.write(LOG.read_bytes())
    ran = subprocess.run(
        [sys.executable, "-m", "whorlpulse", "ratio", name, "--json"], capture_output=True, check=False
    )
    assert ran.returncode == 0, ran.stderr
    assert b"ratio" in ran.stdout
