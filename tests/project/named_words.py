"""Every name that a user meets, taken from the program itself: commands, options, findings, keys, states."""

from __future__ import annotations

import contextlib
import io
import json
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, get_args

from whorlpulse.cli.app import COMMANDS, app
from whorlpulse.cli.exits import run

SAMPLES = Path(__file__).resolve().parents[2] / "sample-captures"
#: Commands whose objects are looked at, with samples that bring out most of their keys.
ASKED = (
    "ratio unlabelled-wheel/log.pulses --wheel unlabelled-wheel/wheel.toml",
    "slip uneven-magnets/log.pulses",
    "slip bobbin-that-fills/log.pulses --wheel bobbin-that-fills/wheel.toml",
    "cadence steady-minute-and-a-half/log.pulses --treadles single",
    "check every-line-fault/log.pulses",
    "twist skein-gone-soft/log.pulses --plan skein-gone-soft/plan.toml",
    "twist bobbin-that-fills/log.pulses --wheel bobbin-that-fills/wheel.toml",
    "compare first-skein/log.pulses skein-gone-soft/log.pulses",
    "survey unlabelled-wheel/log.pulses",
    "sample first-skein/log.pulses --gauge 25cm --turns 48,50,47",
    "ply --singles 8tpi --singles 8tpi --ply 5tpi",
    "plan first-skein/plan.toml --wheel first-skein/wheel.toml --draft 3cm --mass 100g",
    "tally --wheel 20 --flyer 124",
    "demo",
)


def commands_and_options() -> Iterator[str]:
    """Yield commands, and every long option without its dashes."""
    import typer

    group: Any = typer.main.get_command(app)
    yield from COMMANDS
    for command in (group, *(group.get_command(None, name) for name in COMMANDS)):
        for parameter in command.params:
            yield from (o[2:] for o in (*parameter.opts, *parameter.secondary_opts) if o.startswith("--"))


def findings() -> Iterator[str]:
    """Yield the findings' names."""
    from whorlpulse.findings.catalogue import sample, sensors, slip, yarn_length

    for part in (sensors, slip, sample, yarn_length):
        yield from part.FINDINGS


def states() -> Iterator[str]:
    """Yield the states that answers can be in, and where figures come from."""
    from whorlpulse.estimators.twist import Verdict
    from whorlpulse.rig import Tension

    yield from get_args(Verdict)
    yield from get_args(Tension)
    yield from ("given", "wheel-file", "other-capture", "this-capture", "roller", "marks", "total", "bobbin")


def file_keys() -> Iterator[str]:
    """Yield the keys of the sample wheel and plan files, and the keys with a meaning in a log."""
    import tomllib

    for file in SAMPLES.glob("*/*.toml"):
        yield from _keys(tomllib.loads(file.read_text()))
    page = (SAMPLES.parent / "firmware-notes" / "line-protocol.md").read_text()
    yield from re.findall(r"^\| `([a-z_]+)` \|", page, re.MULTILINE)


def json_keys() -> Iterator[str]:
    """Yield the keys of every object that the commands of ASKED print; a command that fails is an AssertionError."""
    for line in ASKED:
        words = [str(SAMPLES / w) if "/" in w else w for w in line.split()]
        said = io.StringIO()
        with contextlib.redirect_stdout(said):
            assert run([*words, "--json"]) == 0, line
        yield from _keys(json.loads(said.getvalue()))


def words_in(names: Iterable[str]) -> set[str]:
    """Return the single words of names: parted at hyphens and underscores; numbers and lone letters are none."""
    parts = {part.lower() for name in names for part in re.split(r"[^A-Za-z]+", name)}
    return {part for part in parts if len(part) > 1}


def _keys(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, part in value.items():
            yield str(key)
            yield from _keys(part)
    elif isinstance(value, list):
        for part in value:
            yield from _keys(part)
