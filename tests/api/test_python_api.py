"""The package's own functions: the same figures as the commands', light to import, each example of the page run."""

from __future__ import annotations

import ast
import doctest
import json
import subprocess
import sys
from pathlib import Path

import pytest

import whorlpulse
from whorlpulse.cli.exits import run

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "python-api.md"
SAMPLES = ROOT / "sample-captures"
QUESTIONS = ("ratio", "twist", "slip", "cadence", "check")


def test_every_example_of_the_page_runs(monkeypatch):
    monkeypatch.chdir(ROOT)
    text = PAGE.read_text()
    # a traceback ends at the fence, not at an empty line
    examples = doctest.DocTestParser().get_doctest(text.replace("```", "\n"), {}, PAGE.name, str(PAGE), 0)
    assert len(examples.examples) >= 25
    said: list[str] = []
    result = doctest.DocTestRunner(verbose=False).run(examples, out=said.append)
    assert result.failed == 0, "".join(said)
    fences = text.count("```python\n")
    assert fences == text.count("\n\n```\n"), "every example ends with an empty line, as doctest needs it"


def test_the_page_names_everything_that_the_package_offers():
    text = PAGE.read_text()
    for name in whorlpulse.__all__:
        assert name == "__version__" or name in text, name
    for column in whorlpulse.gather(SAMPLES / "coarse-clock", workers=1)[0]:
        stem = column.removesuffix("_percent").removesuffix("_per_min").removesuffix("_tpm")
        if stem.endswith(("_low", "_high")) and not stem.startswith("ratio"):
            continue  # "with low and high"
        assert f"`{column}`" in text, column


@pytest.mark.parametrize("question", QUESTIONS)
def test_answers_are_those_of_the_command(question, capsys):
    folder = SAMPLES / "skein-gone-soft"
    words = [question, str(folder / "log.pulses"), "--wheel", str(folder / "wheel.toml")]
    words += ["--plan", str(folder / "plan.toml")] if question == "twist" else []
    answer = getattr(whorlpulse, question)(folder / "log.pulses")
    assert run([*words, "--json"]) == 0
    assert answer.as_dict() == json.loads(capsys.readouterr().out)
    assert run(words) == 0
    assert str(answer).strip() == capsys.readouterr().out.strip()
    assert answer.answered


def test_options_win_over_the_wheel_file(tmp_path):
    log = (SAMPLES / "uneven-magnets" / "log.pulses").read_bytes()
    (tmp_path / "wheel.toml").write_text("[targets]\nw = 2\nf = 1\n")
    (tmp_path / "log.pulses").write_bytes(log)
    true = json.loads((SAMPLES / "uneven-magnets" / "truth.json").read_text())["ratio"]
    ratios = {
        "log": whorlpulse.ratio(whorlpulse.read_log(tmp_path / "log.pulses", beside=False)),
        "wheel file": whorlpulse.ratio(tmp_path / "log.pulses"),
        "option": whorlpulse.ratio(whorlpulse.read_log(tmp_path / "log.pulses", targets="w=4 f=2")),
    }
    found = {name: answer.report.ratio.value for name, answer in ratios.items()}
    assert found["log"] == pytest.approx(true, rel=5e-4)  # the design's bar, section 9
    assert found["option"] == pytest.approx(true, rel=5e-4)
    # said to have half of its wheel targets and half of its flyer's, each wheel turn counts double, each flyer turn too
    assert found["wheel file"] == pytest.approx(true * 2 / 2, rel=5e-3)
    part = whorlpulse.read_log(tmp_path / "log.pulses", targets="w=4")
    assert dict(part.rig.targets) == {"w": 4, "f": 1, "b": 1, "y": 1}  # the option's, then the wheel file's


def test_lengths_and_references_may_be_given():
    folder = SAMPLES / "first-skein"
    truth = json.loads((folder / "truth.json").read_text())
    log = whorlpulse.read_log(folder / "log.pulses", total=f"{truth['length_m']:.2f} m")
    found = whorlpulse.twist(log)
    assert found.as_dict()["length_source"] == "total"
    assert found.report.found.twist.value == pytest.approx(truth["twist_tpm"], rel=0.005)  # the design's bar
    slow = whorlpulse.read_log(SAMPLES / "steady-minute-and-a-half" / "log.pulses", beside=False)
    for reference, source in ((8.47, "given"), ("8.47+-0.02", "given"), (slow, "other-capture")):
        assert whorlpulse.slip(log, reference).as_dict()["reference"]["source"] == source


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: whorlpulse.read_log("nowhere.pulses"), "nowhere.pulses is not there"),
        (lambda: whorlpulse.read_log(bytes(range(256)) * 9), "log.pulses: is no pulse log"),
        (lambda: whorlpulse.read_log(b"w,1,1\n", targets="seven"), "--targets"),
        (lambda: whorlpulse.read_log(b"w,1,1\n", total="long"), "--total"),
        (lambda: whorlpulse.read_log(b"w,1,1\n", wheel="nowhere.toml"), "nowhere.toml is not there"),
        (lambda: whorlpulse.simulated("no such scene"), "name a scenario"),
        (lambda: whorlpulse.slip(b"w,1,1\n", reference=0.0), "--reference"),
        (lambda: whorlpulse.slip(b"w,1,1\n", reference=whorlpulse.read_log(b"w,1,1\n")), "as a reference"),
        (lambda: whorlpulse.gather("nowhere"), "no folder"),
    ],
)
def test_what_cannot_be_used_raises_one_line(call, says, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(whorlpulse.BadInputError) as caught:
        call()
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)
    assert isinstance(caught.value, ValueError)


def test_what_is_no_log_at_all_is_a_mistake_of_the_caller():
    with pytest.raises(TypeError, match="not int"):
        whorlpulse.read_log(7)


def test_importing_the_package_is_light_and_its_names_are_those_of_the_stub():
    code = "import sys, whorlpulse; print(*sorted(sys.modules)); print(*dir(whorlpulse)); print(*sorted(sys.modules))"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    modules, names, modules_then = (set(line.split()) for line in ran.stdout.splitlines())
    for loaded in (modules, modules_then):
        assert not {"numpy", "typer", "whorlpulse.cli", "whorlpulse.findings"} & loaded
    stub = ast.parse((ROOT / "logger" / "whorlpulse" / "__init__.pyi").read_text())
    typed = {a.asname for node in stub.body if isinstance(node, ast.ImportFrom) for a in node.names}
    assert len(typed) >= 15
    assert typed <= names
    assert typed | {"__version__"} == set(whorlpulse.__all__)
    with pytest.raises(AttributeError, match="no attribute 'rattio'"):
        whorlpulse.__getattr__("rattio")


def test_every_name_that_is_offered_is_there_for_all_ways_of_importing(tmp_path):
    code = "from whorlpulse import *\nimport whorlpulse\n"
    code += "print(*(n for n in whorlpulse.__all__ if globals()[n] is not getattr(whorlpulse, n)))\n"
    code += "from whorlpulse import units, read_log\nprint(units.__name__, read_log.__name__)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert ran.stdout.splitlines() == ["", "whorlpulse.units read_log"]


def test_a_script_is_checked_with_the_packages_types(tmp_path):
    script = tmp_path / "script.py"
    script.write_text(
        "import whorlpulse\n"
        "log = whorlpulse.read_log('log.pulses')\n"
        "found = whorlpulse.ratio(log).report.ratio\n"
        "value: float = found.value if found is not None else 0.0\n"
        "wrong: str = whorlpulse.read_log('log.pulses').pulses\n"
    )
    ran = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--config-file", "", str(script)],
        capture_output=True,
        text=True,
        timeout=300,
        cwd=tmp_path,
        env={"MYPYPATH": str(ROOT / "logger"), "PATH": "/usr/bin:/bin"},
        check=False,
    )
    assert 'script.py:5: error: Incompatible types in assignment (expression has type "int"' in ran.stdout
    assert ran.stdout.count("script.py:") == 1
