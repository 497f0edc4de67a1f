"""The commands that measure keep the memory that they free, on Linux with glibc; nothing else makes that setting.

What tells is the count of new pages that the kernel gives a process (getrusage) while arrays come and go.
"""

import subprocess
import sys
from pathlib import Path

import pytest

from whorlpulse.cli import freed_memory

ROOT = Path(__file__).resolve().parents[2]
LOG = ROOT / "sample-captures" / "steady-minute-and-a-half" / "log.pulses"
glibc = pytest.mark.skipif(not freed_memory._is_glibc(), reason="the setting is one of glibc's")

#: Ten arrays of 400 kB come and go twenty times, 1,000 pages of 4 kB: new ones each time, or those of the first time.
COUNT = """
import resource, sys
import numpy as np
def pages():
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt
def come_and_go():
    before = pages()
    for _ in range(20):
        arrays = [np.ones(50_000) for _ in range(10)]
        del arrays
    return pages() - before
"""


def pages_after(code: str) -> int:
    ran = subprocess.run([sys.executable, "-c", COUNT + code], capture_output=True, text=True, check=True, cwd=ROOT)
    return int(ran.stdout.splitlines()[-1])


COMMAND = """
sys.argv = ["whorlpulse", *{words!r}]
from whorlpulse.cli import main
try:
    main()
except SystemExit:
    pass
print()
print(come_and_go())
"""


@glibc
def test_a_command_that_measures_keeps_what_it_frees_and_the_others_and_the_package_do_not():
    plain = pages_after("print(come_and_go())")
    measuring = pages_after(COMMAND.format(words=["ratio", str(LOG), "--json"]))
    assert measuring < 0.2 * plain
    assert pages_after(COMMAND.format(words=["ratio", "--help"])) > 0.8 * plain
    package = f"import whorlpulse\nwhorlpulse.slip({str(LOG)!r}, reference={str(LOG)!r})\nprint(come_and_go())"
    assert pages_after(package) > 0.8 * plain


@pytest.mark.parametrize("words", [[], ["--help"], ["record", "x"], ["live"], ["ratio", "-h"], ["no-such"]])
def test_no_setting_where_nothing_is_measured(words):
    assert freed_memory.keep_freed_memory(words) is False


@pytest.mark.parametrize("says", [None, "musl 1.2", ValueError("unrecognized configuration name"), OSError(22, "no")])
def test_another_c_library_is_left_alone_without_a_word(monkeypatch, says):
    def confstr(name):
        if isinstance(says, Exception):
            raise says
        return says

    monkeypatch.setattr("os.confstr", confstr)
    assert freed_memory.keep_freed_memory(["ratio", "log.pulses"]) is False


def test_another_system_is_left_alone_without_a_word(monkeypatch):
    monkeypatch.setattr("sys.platform", "darwin")
    assert freed_memory.keep_freed_memory(["ratio", "log.pulses"]) is False
