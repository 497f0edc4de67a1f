"""Every row of the fault table so many times in a row while the processors are busy.

`python tests/faults/repeat.py --times 50 --jobs 6 --load 2 [WORD ...]`; words choose rows whose test has one of them.
Several rows run at once; `load` processes do nothing but keep a processor busy each. Ends with 1 if a row failed.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import re
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from table import ROWS, TESTS, Row

HERE = Path(__file__).resolve().parent


def burn() -> None:
    """Keep a processor busy."""
    while True:
        sum(i * i for i in range(10_000))


def repeated(row: Row, times: int) -> tuple[int, float, str]:
    """How many rounds passed, the seconds that all took, and the end of what pytest said.

    A round of a test that is tried in several ways is passed when all of them are.
    """
    words = [sys.executable, "-m", "pytest", "-p", "rounds", "-p", "no:cacheprovider", str(TESTS / row.test)]
    paths = filter(None, [os.environ.get("PYTHONPATH")])
    environment = os.environ | {"WHORLPULSE_ROUNDS": str(times), "PYTHONPATH": os.pathsep.join([str(HERE), *paths])}
    began_s = time.monotonic()
    ran = subprocess.run(words, capture_output=True, text=True, env=environment, cwd=TESTS.parent, check=False)
    passed, failed = (
        int(found[1]) if (found := re.search(rf"(\d+) {word}", ran.stdout)) else 0
        for word in ("passed", "(?:fail|err)")
    )
    ways = (passed + failed) // times or 1
    return passed // ways, time.monotonic() - began_s, ran.stdout[-3000:] + ran.stderr[-500:]


def main() -> int:
    """Repeat the rows and print how often each passed."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--times", type=int, default=50)
    asked.add_argument("--jobs", type=int, default=6)
    asked.add_argument("--load", type=int, default=os.cpu_count() or 1)
    asked.add_argument("words", nargs="*")
    given = asked.parse_args()
    rows = [row for row in ROWS if not given.words or any(word in row.test for word in given.words)]
    burners = [multiprocessing.Process(target=burn, daemon=True) for _ in range(given.load)]
    for burner in burners:
        burner.start()
    failed = 0
    try:
        with ThreadPoolExecutor(given.jobs) as pool:
            results = pool.map(lambda row: (row, *repeated(row, given.times)), rows)
            for row, passed, took_s, said in results:
                good = passed == given.times
                failed += not good
                print(f"{passed:3d} of {given.times}  {took_s / given.times:5.1f} s each  {row.test}", flush=True)
                if not good:
                    print(said, flush=True)
    finally:
        for burner in burners:
            burner.kill()
    print(f"{len(rows) - failed} of {len(rows)} rows passed {given.times} times; load {os.getloadavg()[0]:.1f}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
