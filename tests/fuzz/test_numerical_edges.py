"""Numbers at their edges through the real commands: an answer or one plain line, never a fault, a warning or a NaN.

Warnings are errors here, so that a division by zero inside is a fault too. Every command sees every log with
WHORLPULSE_FULL=1 (some ten minutes); else each log goes through a third of the commands, taking turns.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import sys
from pathlib import Path

import pytest

from whorlpulse.cli.exits import run

sys.path.insert(0, str(Path(__file__).resolve().parent))

from edge_logs import edge_logs, spun

FULL = os.environ.get("WHORLPULSE_FULL", "") not in ("", "0")
LOGS = edge_logs()
#: LOG is the log at the edge, ORDINARY one that is not, PLAN and PAGE files.
COMMANDS = (
    "ratio LOG --json",
    "slip LOG",
    "twist LOG --plan PLAN",
    "cadence LOG --treadles double",
    "check LOG",
    "survey LOG --json",
    "twist LOG --total 3m --draws --json",
    "slip LOG --reference 6.21 --json",
    "calibrate LOG --length 10m",
    "compare LOG ORDINARY --json",
    "convert LOG -o -",
    "sample LOG --gauge 25cm --turns 48,50,47",
    "ratio LOG",
    "check LOG --json",
    "slip ORDINARY --reference LOG",
    "cadence LOG --json",
    "twist LOG --total 2e-9m --json",
    "compare ORDINARY LOG",
    "ply LOG ORDINARY --json",
    "survey LOG",
    "report LOG -o PAGE --no-script --replace --plan PLAN",
)


#: What would be shown in a figure's place.
_NO_FIGURE = re.compile(r"\b(nan|inf|infinity)\b")


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("edges")
    for name, data in LOGS.items():
        (folder / f"{name}.pulses").write_bytes(data)
    (folder / "ORDINARY").write_text(spun(60, 900_000))
    (folder / "PLAN").write_text('[yarn]\ntwist = "5.2 tpi"\ncount = "12 Nm"\n')
    return folder


def typed(words: list[str]) -> tuple[int, str, str]:
    """Run the command here; return exit code, standard output and standard error."""
    raw, err = io.BytesIO(), io.StringIO()
    out = io.TextIOWrapper(raw, encoding="utf-8")
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = run(words)
        out.flush()
    return code, raw.getvalue().decode(), err.getvalue()


def check_ending(words: list[str], code: int, out: str, err: str) -> None:
    """Exit code 0, 1 or 2; one plain line when it is not 0; JSON that is JSON; no figure that is none."""
    told = f"whorlpulse {' '.join(words)}: {code} {err}"
    assert code in (0, 1, 2), told
    assert "unexpected fault" not in err, told
    assert "Traceback" not in out + err, told
    if words[0] != "report":  # whose page says why, and standard output where it is
        assert err.count("\n") == (code != 0), told
    assert code == 0 or not err or err.startswith("whorlpulse: "), told
    if "--json" in words and code != 2:
        found = json.loads(out, parse_constant=lambda word: pytest.fail(f"{told}: {word} in JSON"))
        assert found["schema"], told
    elif not _NO_FIGURE.search(" ".join(words)):  # there the log's own words are quoted
        assert not _NO_FIGURE.search(out.lower()), told


def words_for(command: str, name: str, place: Path) -> list[str]:
    files = {"LOG": f"{name}.pulses", "ORDINARY": "ORDINARY", "PLAN": "PLAN", "PAGE": "page.html"}
    return [str(place / files[w]) if w in files else w for w in command.split()]


@pytest.mark.parametrize("name", LOGS)
def test_a_log_at_the_edge(name: str, place: Path) -> None:
    turn = list(LOGS).index(name)
    for i, command in enumerate(COMMANDS):
        if not FULL and (i + turn) % 3:
            continue
        words = words_for(command, name, place)
        check_ending(words, *typed(words))
        if command.startswith("report"):
            page = place / "page.html"
            if page.exists():
                text = re.sub(r"<style.*?</style>|<script.*?</script>", "", page.read_text(), flags=re.S)
                shown = re.sub(r"<[^>]*>", " ", text).lower()
                assert name in ("clock-nan", "clock-inf", "roller-nan", "length-nan") or not _NO_FIGURE.search(shown)
                page.unlink()


def test_clocks_from_1_hz_to_10_ghz(place: Path) -> None:
    # six flyer turns to a wheel turn by construction, on clocks of ten billion ticks a second and of a few a second
    slow = spun(300, 48, hz=8)
    (place / "clock-8-hz.pulses").write_text(slow)
    for name in ("clock-10-ghz", "clock-10-ghz-wrapping", "clock-8-hz"):
        code, out, err = typed(["ratio", str(place / f"{name}.pulses"), "--json"])
        assert (code, err) == (0, ""), name
        ratio = json.loads(out)["ratio"]
        assert ratio["low"] <= 6.0 <= ratio["high"], name
        assert abs(ratio["value"] - 6.0) < 1e-3, name
    # a tick a second: one flyer turn comes after one tick, the next after two, and no one can tell a missed one
    code, out, err = typed(["ratio", str(place / "clock-1-hz.pulses")])
    assert (code, out) == (1, "")
    assert "too coarse for the flyer" in err


@pytest.mark.parametrize("bad", ["nan", "inf", "-inf", "0", "-1", "1e308", "1e-308", "1e400", "9" * 400, ""])
@pytest.mark.parametrize(
    "command",
    [
        "twist ORDINARY --total BAD",
        "twist ORDINARY --total BAD;m",
        "twist ORDINARY --roller BAD;cm",
        "slip ORDINARY --reference BAD",
        "slip ORDINARY --reference 6.2+-BAD",
        "ratio ORDINARY --targets w=BAD",
        "plan PLAN --ratio BAD",
        "plan PLAN --cadence BAD",
        "plan PLAN --mass BAD;g",
        "plan PLAN --draft BAD;cm --ratio 6",
        "ply --singles BAD;tpi",
        "ply --singles 8tpi --ply BAD;tpi --contraction BAD;%",
        "sample --gauge BAD;cm --turns 48,50",
        "sample --gauge 25cm --turns BAD,50",
        "sample --angle BAD --diameter BAD;mm",
        "calibrate ORDINARY --length BAD;m --pulls 3",
        "survey ORDINARY --draft BAD;cm",
    ],
)
def test_an_option_at_the_edge(command: str, bad: str, place: Path) -> None:
    words = [w.replace("BAD", bad).replace(";", " ") for w in words_for(command, "", place)]
    check_ending(words, *typed(words))
