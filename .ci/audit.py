"""Ask a public list of known holes (OSV) about all that the program brings along, by pip-audit.

Run in the environment that is looked at:  .venv/bin/python .ci/audit.py
Ends with 1 where a hole is known. Where the list cannot be asked it says loudly that nothing was audited, and ends
with 0, or with 1 where WHORLPULSE_AUDIT=1 asks that it be done. WHORLPULSE_OSV names another list of the same kind.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import tomllib
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[1]
#: Extras for those who change the program; what users get is looked at.
OURS = ("test", "benchmarks")
PATIENCE_S = 10


def brought_along(required: list[str]) -> dict[str, str]:
    """Return name and installed version of what these requirements bring along, theirs and so on included."""
    found: dict[str, str] = {}
    seen: set[tuple[str, frozenset[str]]] = set()
    waiting = [Requirement(text) for text in required]
    while waiting:
        wanted = waiting.pop()
        name = canonicalize_name(wanted.name)
        if (name, frozenset(wanted.extras)) in seen:
            continue
        seen.add((name, frozenset(wanted.extras)))
        installed = metadata.distribution(name)
        found[name] = installed.version
        for text in installed.requires or ():
            its = Requirement(text)
            if its.marker is None or any(its.marker.evaluate({"extra": extra}) for extra in ("", *wanted.extras)):
                waiting.append(its)
    return found


def main() -> int:
    """Audit, say what was found, and return the exit code."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    required = [*project["dependencies"]]
    for extra, asked in project["optional-dependencies"].items():
        required += asked if extra not in OURS else []
    versions = brought_along(required)
    report, said = _asked(versions)
    if report is None:
        return _not_audited(said)
    audited = [d for d in report["dependencies"] if "skip_reason" not in d]
    if not audited:
        return _not_audited("it knows none of the packages")
    holes = [(d, hole) for d in audited for hole in d["vulns"]]
    for package, hole in holes:
        mended = ", ".join(hole["fix_versions"]) or "no version yet"
        print(f"audit: {package['name']} {package['version']}: {hole['id']}, mended in {mended}", file=sys.stderr)
    for package in report["dependencies"]:
        if "skip_reason" in package:
            print(f"audit: {package['name']} was not audited: {package['skip_reason']}", file=sys.stderr)
    print(f"audit: {len(audited)} of {len(versions)} packages audited, {len(holes)} known holes")
    return 1 if holes else 0


def _asked(versions: dict[str, str]) -> tuple[dict | None, str]:
    """Return pip-audit's report, or None and the last line of what it said instead."""
    with tempfile.NamedTemporaryFile("w", suffix=".txt", encoding="utf-8") as pins:
        pins.writelines(f"{name}=={version}\n" for name, version in sorted(versions.items()))
        pins.flush()
        words = ["-r", pins.name, "--no-deps", "--disable-pip", "--format", "json", "--progress-spinner", "off"]
        words += ["-s", "osv", "--timeout", str(PATIENCE_S)]
        if "WHORLPULSE_OSV" in os.environ:
            words += ["--osv-url", os.environ["WHORLPULSE_OSV"]]
        ran = subprocess.run([sys.executable, "-m", "pip_audit", *words], capture_output=True, text=True, check=False)
    try:
        return json.loads(ran.stdout), ""
    except ValueError:
        lines = ran.stderr.strip().splitlines()
        return None, lines[-1] if lines else f"pip-audit ended with {ran.returncode}"


def _not_audited(why: str) -> int:
    print(f"audit: NOT AUDITED, the list of known holes could not be asked: {why}", file=sys.stderr)
    return 1 if os.environ.get("WHORLPULSE_AUDIT", "") not in ("", "0") else 0


if __name__ == "__main__":
    sys.exit(main())
