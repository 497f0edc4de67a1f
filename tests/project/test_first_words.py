"""The program typed alone says what to do next, and what it says can be done; a shell can ask how a command goes on."""

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from named_words import findings

from whorlpulse.cli.app import COMMANDS
from whorlpulse.cli.completion import ASKED, SHELLS
from whorlpulse.cli.exits import run

ROOT = Path(__file__).resolve().parents[2]
LOG = ROOT / "sample-captures" / "steady-minute-and-a-half" / "log.pulses"
BIN = Path(sys.executable).parent


def said(folder: Path, monkeypatch, capsys) -> str:
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "80")
    assert run([]) == 0
    return capsys.readouterr().out


def commands_in(text: str) -> list[list[str]]:
    return [shlex.split(line)[1:] for line in text.splitlines() if line.startswith("    whorlpulse ")]


def test_typed_alone_in_an_empty_folder_it_fits_a_screen_and_names_commands_that_are(tmp_path, monkeypatch, capsys):
    text = said(tmp_path, monkeypatch, capsys)
    lines = text.splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    named = [words[0] for words in commands_in(text)]
    assert named[0] == "demo"  # the newcomer without hardware comes first
    assert "log" not in text.split("demo")[0]
    for name in named:
        assert name in COMMANDS or name == "--help"
    for words in commands_in(text):
        if words[-1] == "--help":
            assert run(words) == 0


def test_where_a_log_lies_what_it_says_to_do_with_it_works(tmp_path, monkeypatch, capsys):
    """The newest of two, with a name that a shell would take apart."""
    shutil.copy(LOG, tmp_path / "older.pulses")
    os.utime(tmp_path / "older.pulses", (1_000_000_000, 1_000_000_000))
    name = "my wheel's.pulses"
    shutil.copyfile(LOG, tmp_path / name)
    text = said(tmp_path, monkeypatch, capsys)
    assert len(text.splitlines()) <= 24
    of_log = [words for words in commands_in(text) if name in words]
    assert [words[0] for words in of_log] == ["report", "check"]
    for words in of_log:
        assert run(words) == 0, capsys.readouterr().err
    assert (tmp_path / "page.html").stat().st_size > 1000


def test_a_log_whose_name_begins_like_an_option_is_given_as_a_file(tmp_path, monkeypatch, capsys):
    shutil.copy(LOG, tmp_path / "-w.pulses")
    check = [words for words in commands_in(said(tmp_path, monkeypatch, capsys)) if words[0] == "check"]
    assert len(check) == 1
    assert run(check[0]) == 0


@pytest.mark.parametrize(
    ("typed", "goes_on"),
    [
        (["ra"], {"ratio"}),
        (["s"], {name for name in COMMANDS if name.startswith("s")}),
        (["twist", "--pl"], {"--plan"}),
        (["simulate", "skein-so"], {"skein-soft"}),
        (["no-such-command", "--pl"], set()),  # nothing, and no complaint into the user's line
    ],
)
def test_bash_itself_completes_commands_and_options(typed, goes_on, capsys):
    bash = shutil.which("bash")
    if bash is None or not (BIN / "whorlpulse").exists():
        pytest.skip("needs bash and the installed command")
    assert run(["--completion", "bash"]) == 0
    lines = capsys.readouterr().out
    words = " ".join(["whorlpulse", *typed])
    script = (
        f"{lines}\nCOMP_WORDS=({words}); COMP_CWORD={len(typed)}\n"
        '_whorlpulse_completion whorlpulse\nprintf "%s\\n" "${COMPREPLY[@]}"'
    )
    env = {**os.environ, "PATH": f"{BIN}{os.pathsep}{os.environ['PATH']}"}
    ran = subprocess.run([bash, "-c", script], capture_output=True, text=True, timeout=60, check=True, env=env)
    assert set(ran.stdout.split()) == goes_on
    assert ran.stderr == ""


@pytest.mark.parametrize("shell", SHELLS)
def test_every_shell_has_lines_that_ask_this_program(shell, capsys):
    assert run(["--completion", shell]) == 0
    lines = capsys.readouterr().out
    assert ASKED in lines
    assert "whorlpulse" in lines


def test_a_shell_that_is_not_known_is_refused_with_those_that_are(capsys):
    assert run(["--completion", "abacus"]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    for shell in SHELLS:
        assert shell in error


@pytest.mark.parametrize(("typed", "same"), [(["help"], ["--help"]), (["help", "twist"], ["twist", "--help"])])
def test_help_may_be_asked_for_as_a_command(typed, same, capsys):
    assert run(typed) == 0
    asked = capsys.readouterr().out
    assert run(same) == 0
    assert asked == capsys.readouterr().out


def test_every_finding_says_where_its_page_is_and_the_page_is_there(tmp_path, capsys):
    """The line under a finding is a command that can be typed as it stands."""
    assert run(["simulate", "bad-joint", "-o", str(tmp_path)]) == 0
    assert run(["slip", str(tmp_path / "log.pulses"), "--wheel", str(tmp_path / "wheel.toml")]) == 0
    more = re.findall(r"^ {4}More: whorlpulse (.*)$", capsys.readouterr().out, re.MULTILINE)
    assert "help band-joint" in more
    for words in more:
        assert run(words.split()) == 0
        assert capsys.readouterr().out.split()[0] == words.split()[1]


@pytest.mark.parametrize("name", sorted(findings()))
def test_each_finding_can_be_read_about(name, capsys):
    assert run(["help", name]) == 0
    said = capsys.readouterr().out
    assert len(said.split()) > 10
    assert max(map(len, said.splitlines())) <= 80
    assert not re.search(r"[`#]|\]\(", said)


def test_help_for_no_command_names_the_nearest(capsys):
    assert run(["help", "twits"]) == 2
    assert "did you mean twist?" in capsys.readouterr().err


def test_a_log_typed_alone_is_answered_with_a_command_that_takes_it(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    shutil.copy(LOG, tmp_path / "my wheel.pulses")
    assert run(["my wheel.pulses"]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    words = shlex.split(said.partition("as in whorlpulse ")[2].partition(" (")[0])
    assert run(words) == 0


@pytest.mark.parametrize("typed", [[], ["--completion", "bash"]])
def test_first_words_come_at_once(typed, tmp_path):
    """Nothing heavy is loaded for them."""
    code = f"import sys\nfrom whorlpulse.cli.exits import run\nrun({typed!r})\nprint(*sys.modules, file=sys.stderr)"
    ran = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, timeout=60, check=True
    )
    loaded = set(ran.stderr.split())
    assert "typer" in loaded
    assert not {"numpy", "scipy", "msgspec", "rich", "asyncio", "pint"} & loaded
