"""The wheel carries all that the program needs and nothing else; installed by itself it works."""

from __future__ import annotations

import json
import os
import sys
import tomllib
import zipfile
from email import message_from_bytes
from pathlib import Path

import pytest
from building import ROOT, interpreters, run

import whorlpulse

sys.path.insert(0, str(ROOT / "tests"))

from tools import skips_are_failures

#: Installing on every interpreter takes minutes and a package index.
SLOW = os.environ.get("WHORLPULSE_SLOW", "") not in ("", "0") or skips_are_failures()
slow = pytest.mark.skipif(not SLOW, reason="takes minutes: set WHORLPULSE_SLOW=1")


def of_project(copy: Path) -> set[str]:
    """What the wheel must carry, by its place in it."""
    package = {
        p.relative_to(copy / "logger").as_posix() for p in (copy / "logger" / "whorlpulse").rglob("*") if p.is_file()
    }
    samples = {f"whorlpulse/{p.relative_to(copy)}" for p in (copy / "sample-captures").rglob("*") if p.is_file()}
    return package | samples | {"whorlpulse/findings.md"}


def test_the_wheel_carries_page_templates_types_and_samples_and_nothing_else(copy, wheel):
    with zipfile.ZipFile(wheel) as archive:
        carried = {name for name in archive.namelist() if ".dist-info/" not in name}
        for name in (
            "views/templates/report.html",
            "live_page/static/page.html",
            "sample-captures/first-skein/log.pulses",
        ):
            where = ROOT / name if name.startswith("sample") else ROOT / "logger" / "whorlpulse" / name
            assert archive.read(f"whorlpulse/{name}") == (copy / where.relative_to(ROOT)).read_bytes()
        about = next(name for name in archive.namelist() if name.endswith(".dist-info/METADATA"))
        said = message_from_bytes(archive.read(about))
        entry = archive.read(about.replace("METADATA", "entry_points.txt")).decode()
    assert carried == of_project(copy)
    assert {"whorlpulse/py.typed", "whorlpulse/__init__.pyi"} <= carried
    assert said["Name"] == "whorlpulse"
    assert said["Version"] == whorlpulse.__version__
    assert said["Requires-Python"] == ">=3.11"
    assert "whorlpulse = whorlpulse.cli:main" in entry
    assert wheel.name.endswith("py3-none-any.whl")
    assert wheel.stat().st_size < 3_000_000


def test_the_extras_that_messages_name_can_be_installed():
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["optional-dependencies"]
    assert {"dask", "parquet"} <= set(declared)


def test_this_interpreter_is_among_those_that_are_found():
    assert f"{sys.version_info[0]}.{sys.version_info[1]}" in interpreters()


@slow
@pytest.mark.parametrize("version", sorted(interpreters()))
def test_installed_by_itself_it_works(wheel, tmp_path, version):
    run(interpreters()[version], "-m", "venv", tmp_path / "venv", cwd=tmp_path)
    python, command = tmp_path / "venv" / "bin" / "python", tmp_path / "venv" / "bin" / "whorlpulse"
    run(python, "-m", "pip", "install", "-q", "--prefer-binary", wheel, cwd=tmp_path, timeout_s=900)
    assert run(command, "--version", cwd=tmp_path).strip() == f"whorlpulse {whorlpulse.__version__}"
    assert "within ±" in run(command, "demo", cwd=tmp_path)
    where = run(python, "-c", "import whorlpulse; print(whorlpulse.samples()['skein-gone-soft'])", cwd=tmp_path).strip()
    assert Path(where).is_relative_to(tmp_path / "venv")
    truth = json.loads((Path(where) / "truth.json").read_text())
    words = ["twist", f"{where}/log.pulses", "--plan", f"{where}/plan.toml", "--json"]
    twist = json.loads(run(command, *words, cwd=tmp_path))
    assert twist["twist_tpm"]["value"] == pytest.approx(truth["twist_tpm"], rel=0.005)  # the design's bar
    run(command, "report", f"{where}/log.pulses", "-o", "page.html", cwd=tmp_path)
    assert (tmp_path / "page.html").read_text().startswith("<!DOCTYPE html>")
    run(command, "gather", Path(where).parent, "-o", "all.csv", cwd=tmp_path)
    assert (tmp_path / "all.csv").read_bytes().count(b"\r\n") == len(list(Path(where).parent.glob("*/log.pulses"))) + 1
    served = "from whorlpulse.live_page import files; print(files.__file__)"
    page = Path(run(python, "-c", served, cwd=tmp_path).strip()).parent / "static" / "page.html"
    assert "<!doctype html>" in page.read_text().lower()


@slow
def test_a_wheel_made_from_the_source_archive_is_the_same(copy, wheel, tmp_path):
    run(sys.executable, "-m", "venv", tmp_path / "venv", cwd=tmp_path)
    python = tmp_path / "venv" / "bin" / "python"
    run(python, "-m", "pip", "install", "-q", "hatchling>=1.27", cwd=tmp_path)
    make = f"from hatchling import build; build.build_sdist({str(tmp_path)!r})"
    run(python, "-c", make, cwd=copy)
    (archive,) = tmp_path.glob("whorlpulse-*.tar.gz")
    run(python, "-m", "pip", "wheel", "-q", "--no-deps", "-w", tmp_path / "again", archive, cwd=tmp_path)
    (again,) = (tmp_path / "again").glob("*.whl")
    with zipfile.ZipFile(wheel) as one, zipfile.ZipFile(again) as other:
        names = {name for name in one.namelist() if ".dist-info/" not in name}
        assert names == {name for name in other.namelist() if ".dist-info/" not in name}
        assert all(one.read(name) == other.read(name) for name in names)
