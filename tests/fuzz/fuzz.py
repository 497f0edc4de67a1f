"""Fuzz one target, guided by which of the package's branches the bytes reach; needs atheris.

    python tests/fuzz/fuzz.py decoder --bytes 1e8
    python tests/fuzz/fuzz.py csv --seconds 3600 --keep found/

Ends 0 with a line of JSON when the bytes or the seconds are used up: inputs, their bytes, and how many bytes were read
of what the target made of them (the same, unless it says otherwise: `answers` makes a log). --bytes counts the latter.
A property that does not hold ends it with a traceback and the input in a file `crash-*` in the folder --keep.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib
import json
import os
import resource
import sys
import time
import warnings
from pathlib import Path
from typing import TYPE_CHECKING

import atheris
from atheris.import_hook import HookManager

if TYPE_CHECKING:
    from targets import Target

#: The whole process may take no more; beyond it Python raises MemoryError, which no target allows for.
_MOST_MEMORY = 1 << 31
#: One input may take so long, in seconds, on a busy machine.
_LONGEST_S = 25
_HERE = Path(__file__).resolve().parent
#: What reads text and bytes: there the fuzzer sees what they are compared with, too. Importers are named because they
#: are loaded only when they are needed, which is too late.
_READERS = ("wire", "importers.wav", "importers.vcd", "importers.csv", "cli.wheel_file", "cli.plan_file")
#: Parts that have targets of their own and would take half of another's time.
_SEEN_ELSEWHERE = {"answers": {"whorlpulse.wire", "whorlpulse.logfile"}}


def guided(name: str) -> tuple[Target, Path]:
    """Load a target with its branches counted; the function, and the folder of the inputs to start from.

    Comparisons are followed in the readers only: atheris 3.0 never frees the result of one, which beside arrays is
    megabytes an input, and the process was over its memory after some hundred inputs.
    """
    apart = _SEEN_ELSEWHERE.get(name, set())
    with atheris.instrument_imports(include=["whorlpulse", "vcd", "tomllib"], exclude=list(apart)):
        for reader in _READERS:
            importlib.import_module(f"whorlpulse.{reader}")
    with HookManager({"whorlpulse"}, apart, enable_loader_override=True, trace_dataflow=False):
        from targets import CORPUS, TARGETS
    return TARGETS[name], CORPUS / name


def main() -> None:
    """Read the options and fuzz until the bytes or the seconds are used up."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("target")
    ask.add_argument("--bytes", type=float, default=1e6)
    ask.add_argument("--seconds", type=float, default=1e9)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--longest", type=int, default=4096, help="bytes of an input")
    ask.add_argument("--keep", type=Path, default=Path("."), help="folder for crashes and for what reaches new code")
    asked = ask.parse_args()
    target, corpus = guided(asked.target)
    warnings.simplefilter("error")
    resource.setrlimit(resource.RLIMIT_AS, (_MOST_MEMORY, _MOST_MEMORY))
    asked.keep.mkdir(parents=True, exist_ok=True)
    grown = asked.keep / f"grown-{asked.target}"
    grown.mkdir(exist_ok=True)
    start, used = time.monotonic(), [0, 0, 0]

    def one(data: bytes) -> None:
        try:
            made = target(data)
        except BaseException:  # libFuzzer keeps it too, unless its clock kills the process while that ends
            (asked.keep / f"crash-{hashlib.sha1(data).hexdigest()}").write_bytes(data)
            raise
        used[0] += 1
        used[1] += len(data)
        used[2] += len(data) if made is None else made
        if used[2] >= asked.bytes or time.monotonic() - start > asked.seconds:
            lasted = time.monotonic() - start
            told = dict(zip(("inputs", "bytes", "read"), used, strict=True))
            told = {"target": asked.target, **told, "seconds": round(lasted, 1)}
            print(json.dumps(told), flush=True)
            os._exit(0)

    words = [sys.argv[0], str(grown), str(corpus), f"-seed={asked.seed}", f"-max_len={asked.longest}"]
    words += [f"-timeout={_LONGEST_S}", f"-artifact_prefix={asked.keep}/", "-len_control=0", "-rss_limit_mb=0"]
    dictionary = _HERE / "dictionaries" / f"{asked.target}.dict"
    if dictionary.is_file():
        words.append(f"-dict={dictionary}")
    atheris.Setup(words, one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
