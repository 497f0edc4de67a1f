"""The project built as for others: a wheel from a copy of what it is built from, and interpreters to try it on."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
#: What a wheel is made of.
PARTS = ("pyproject.toml", "README.md", "logger", "sample-captures", "docs/findings.md")
#: Interpreters that the program is meant for; those that this machine lacks are not tried.
VERSIONS = ("3.11", "3.12", "3.13", "3.14")


def environment() -> dict[str, str]:
    """The environment without what would let an installed program see this copy of the project."""
    hidden = ("PYTHONPATH", "PYTHONHOME", "VIRTUAL_ENV", "WHORLPULSE_TRACE")
    return {key: value for key, value in os.environ.items() if key not in hidden}


def run(*words: object, cwd: Path, timeout_s: float = 300.0) -> str:
    """Run a command to its end and return what it prints; its failure is the test's."""
    ran = subprocess.run(
        [str(w) for w in words],
        cwd=cwd,
        env=environment(),
        capture_output=True,
        text=True,
        timeout=timeout_s,
        check=False,
    )
    assert ran.returncode == 0, f"{words}\n{ran.stdout[-2000:]}\n{ran.stderr[-3000:]}"
    return ran.stdout


def interpreters() -> dict[str, str]:
    """The interpreters of VERSIONS that are here, by version: on the path, or among those of pyenv."""
    found = {}
    kept = sorted(Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")).glob("versions/*/bin/python3"))
    for version in VERSIONS:
        paths = [shutil.which(f"python{version}"), *(str(p) for p in kept if p.parts[-3].startswith(f"{version}."))]
        for path in filter(None, paths):
            ran = subprocess.run([path, "-c", "import venv, ensurepip"], capture_output=True, check=False)
            if ran.returncode == 0:  # one that pyenv only stands in for fails here
                found[version] = path
                break
    return found
