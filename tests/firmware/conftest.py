"""Builds the bench and the firmware once, in a temporary folder; skips where the tools are missing."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from board import AVR_SOURCE, HERE, Bench, build

from tools import require_file, require_tool

SIMAVR = "/usr/include/simavr"


@pytest.fixture(scope="session")
def bench_program(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The simulated board, compiled from bench.c."""
    compiler = require_tool("gcc")
    require_file(f"{SIMAVR}/sim_avr.h", comes_with="the package libsimavr-dev")
    program = tmp_path_factory.mktemp("bench") / "bench"
    flags = ["-O2", "-Wall", "-Wextra", "-Werror", f"-I{SIMAVR}"]
    command = [compiler, *flags, "-o", str(program), str(HERE / "bench.c"), "-lsimavr"]
    ran = subprocess.run(command, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    return program


@pytest.fixture(scope="session")
def avr_tools() -> None:
    """Ends the test unless the firmware can be built."""
    require_tool("make")
    require_tool("avr-gcc")
    require_file("/usr/lib/avr/include/avr/io.h", comes_with="the package avr-libc")


@pytest.fixture(scope="session")
def firmware(tmp_path_factory: pytest.TempPathFactory, avr_tools: None) -> Path:
    """The reference firmware, as its Makefile builds it."""
    return build(AVR_SOURCE, tmp_path_factory.mktemp("firmware"))


@pytest.fixture
def start(bench_program: Path) -> Iterator[Callable[[Path], Bench]]:
    """Put a built firmware on the bench; its port is open, its processor has not yet run."""
    with ExitStack() as benches:
        yield lambda elf: benches.enter_context(Bench(bench_program, elf))


@pytest.fixture
def bench(start: Callable[[Path], Bench], firmware: Path) -> Bench:
    """The reference firmware on the bench."""
    return start(firmware)
