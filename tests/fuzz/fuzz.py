"""Fuzz one target, guided by which of the package's branches the bytes reach; needs atheris.

    python tests/fuzz/fuzz.py decoder --bytes 1e8
    python tests/fuzz/fuzz.py csv --seconds 3600 --keep found/

Ends 0 with a line of JSON (inputs, bytes, seconds) when the bytes or the seconds are used up. A property that does not
hold ends it with a traceback and the input in a file `crash-*` in the folder --keep.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import sys
import time
import warnings
from pathlib import Path

import atheris

#: The whole process may take no more; beyond it Python raises MemoryError, which no target allows for.
_MOST_MEMORY = 1 << 31
#: One input may take so long, in seconds, on a busy machine.
_LONGEST_S = 25
_HERE = Path(__file__).resolve().parent


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
    with atheris.instrument_imports(include=["whorlpulse", "vcd", "tomllib"]):
        from targets import CORPUS, TARGETS
    target = TARGETS[asked.target]
    warnings.simplefilter("error")
    resource.setrlimit(resource.RLIMIT_AS, (_MOST_MEMORY, _MOST_MEMORY))
    asked.keep.mkdir(parents=True, exist_ok=True)
    grown = asked.keep / f"grown-{asked.target}"
    grown.mkdir(exist_ok=True)
    start, used = time.monotonic(), [0, 0]

    def one(data: bytes) -> None:
        target(data)
        used[0] += 1
        used[1] += len(data)
        if used[1] >= asked.bytes or time.monotonic() - start > asked.seconds:
            lasted = time.monotonic() - start
            told = {"target": asked.target, "inputs": used[0], "bytes": used[1], "seconds": round(lasted, 1)}
            print(json.dumps(told), flush=True)
            os._exit(0)

    words = [sys.argv[0], str(grown), str(CORPUS / asked.target), f"-seed={asked.seed}", f"-max_len={asked.longest}"]
    words += [f"-timeout={_LONGEST_S}", f"-artifact_prefix={asked.keep}/", "-len_control=0", "-rss_limit_mb=0"]
    dictionary = _HERE / "dictionaries" / f"{asked.target}.dict"
    if dictionary.is_file():
        words.append(f"-dict={dictionary}")
    atheris.Setup(words, one)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
