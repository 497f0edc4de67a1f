"""Every command is in the README and the help; its help fits a screen; README's commands run; imports stay light."""

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from refresh_readme import PAGES, refreshed

from whorlpulse.cli.app import COMMANDS
from whorlpulse.cli.exits import run

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text()
#: What no help may cost, and what no everyday measurement may (milliseconds in the hundreds each).
HEAVY = {"numpy", "scipy", "serial", "bleak", "plotly", "pint", "rich", "asyncio"}
TOO_HEAVY_TO_MEASURE = {"scipy.stats", "scipy.optimize", "scipy.interpolate", "scipy.signal", "pint", "rich", "plotly"}


@pytest.mark.parametrize("name", ["", *COMMANDS])
def test_help_fits_a_screen(name, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert run([*([name] if name else []), "--help"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert 3 < len(lines) <= 24
    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_in_the_readme(name):
    assert re.search(rf"^\| `{name}[ `]", README, re.MULTILINE), f"{name} is missing in README's table of commands"


def loaded_after(*words: str) -> set[str]:
    code = (
        "import sys\nfrom whorlpulse.cli.exits import run\n"
        f"code = run({list(words)!r})\nprint(*sys.modules, sep=chr(10), file=sys.stderr)\nsys.exit(code)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    return set(ran.stderr.split())


def test_help_imports_nothing_heavy():
    loaded = loaded_after("--help")
    assert "typer" in loaded
    assert not HEAVY & loaded


def test_a_measurement_imports_only_what_it_needs(tmp_path):
    assert run(["simulate", "steady", "-o", str(tmp_path)]) == 0
    loaded = loaded_after("ratio", str(tmp_path / "log.pulses"), "--wheel", str(tmp_path / "wheel.toml"))
    assert "numpy" in loaded
    assert not TOO_HEAVY_TO_MEASURE & loaded
    assert "whorlpulse.simulate" not in loaded


def readme_commands() -> list[str]:
    """The lines of README's blocks that run the installed command, in order, with their answers or without."""
    blocks = re.findall(r"```(?:console|sh)\n(.*?)```", README, re.DOTALL)
    lines = [line.removeprefix("$ ") for block in blocks for line in block.splitlines()]
    return [line for line in lines if line.startswith("whorlpulse ")]


def test_the_readmes_commands_run(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    lines = readme_commands()
    assert len(lines) >= 15
    for line in lines:
        assert run(shlex.split(line)[1:]) == 0, line + capsys.readouterr().err


@pytest.mark.parametrize("page", PAGES[1:])
def test_the_walks_show_what_is_said(page):
    """Every command of a walk, done anew in order: word for word, figures, pictures and columns aside."""
    shown = (ROOT / page).read_text(encoding="utf-8")
    assert shown.count("$ whorlpulse ") >= 6
    assert _words(shown) == _words(refreshed(shown))


def test_the_readme_shows_what_the_demo_says(capsys):
    """Word for word, figures aside: those may move in their last digits when a method changes."""
    shown = re.search(r"```console\n\$ whorlpulse demo\n(.*?)```", README, re.DOTALL)
    assert shown
    assert run(["demo"]) == 0
    said = capsys.readouterr().out
    assert _words(shown[1]) == _words(said)


def _words(text: str) -> list[str]:
    plain = re.sub(r"[·│●○─]+", " ", re.sub(r"[0-9]+(\.[0-9]+)?", "#", text))
    plain = re.sub(r"\([-+]?# to [-+]?#\)", "± #", plain)  # an interval is written so or so, as it is lopsided or not
    return plain.replace(" no", " yes").split()


def test_setup_commands_are_the_two_of_the_readme_and_ci_runs_the_second():
    setups = [line for line in README.splitlines() if line.startswith("python3 -m venv .venv && ")]
    assert len(setups) == 2
    assert setups[0].endswith("whorlpulse demo")
    assert setups[1].endswith("python -m pytest")
    ci = (ROOT / ".ci" / "run").read_text()
    assert "README.md" in ci
    assert subprocess.run(["bash", "-n", str(ROOT / ".ci" / "run")], check=False).returncode == 0
    found = subprocess.run(
        ["bash", str(ROOT / ".ci" / "run"), "--show"], capture_output=True, text=True, check=True, timeout=30
    )
    assert found.stdout.strip() == setups[1]


def test_the_readmes_log_and_files_are_valid(tmp_path):
    from whorlpulse.cli.plan_file import read_plan
    from whorlpulse.cli.wheel_file import read_wheel
    from whorlpulse.logfile import read_log

    log = re.search(r"```text\n(# format.*?)```", README, re.DOTALL)
    wheel, plan = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    assert log
    read = read_log(lambda: [log[1].encode()])
    assert (read.tally.malformed_lines, read.tally.bad_checksum, read.tally.lost, read.tally.pulses) == (0, 0, 0, 2)
    assert read.header.problems == ()
    assert read_wheel(wheel.encode(), "wheel.toml").whorls[0].name == "large"
    assert read_plan(plan.encode(), "plan.toml").yarn.tolerance == pytest.approx(0.1)
