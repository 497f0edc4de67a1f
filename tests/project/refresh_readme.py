"""Run the console examples of README and walks again, and write down what they print.

`python tests/project/refresh_readme.py`. The ```` ```console ```` blocks of a page are one session in a folder of its
own: lines that begin with `$ ` are typed, what follows is what was printed.
"""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
#: Pages with examples, from the root.
PAGES = ("README.md", "docs/walks/spinner.md", "docs/walks/repairer.md", "docs/walks/teacher.md")
BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)


def printed(command: str, place: Path) -> str:
    """Return what a `whorlpulse …` line prints in the folder."""
    program, *words = shlex.split(command)
    if program != "whorlpulse":
        raise SystemExit(f"not a command of ours: {command}")
    line = [sys.executable, "-m", "whorlpulse", *words]
    ran = subprocess.run(line, cwd=place, capture_output=True, text=True, check=True, timeout=120)
    return ran.stdout


def refreshed(text: str) -> str:
    """Return a page with every console block's output renewed; the blocks share one folder."""
    with tempfile.TemporaryDirectory() as folder:

        def renew(block: re.Match[str]) -> str:
            commands = [line[2:] for line in block[1].splitlines() if line.startswith("$ ")]
            said = "".join(f"$ {c}\n{printed(c, Path(folder))}" for c in commands)
            return f"```console\n{said}```"

        return BLOCK.sub(renew, text)


if __name__ == "__main__":
    for page in (ROOT / name for name in PAGES):
        page.write_text(refreshed(page.read_text(encoding="utf-8")), encoding="utf-8")
