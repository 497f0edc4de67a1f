"""Every name that a user meets, taken from the program itself: commands, options, findings, keys, columns, states."""

from __future__ import annotations

import ast
import contextlib
import importlib
import io
import json
import pkgutil
import re
import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from whorlpulse.cli.app import COMMANDS, app
from whorlpulse.cli.exits import run

SAMPLES = Path(__file__).resolve().parents[2] / "sample-captures"
PACKAGE = Path(__file__).resolve().parents[2] / "logger" / "whorlpulse"
#: Questions whose objects are looked at, with samples that bring out most of their keys; TABLE is a table to write.
ASKED = (
    "ratio unlabelled-wheel/log.pulses --wheel unlabelled-wheel/wheel.toml",
    "slip uneven-magnets/log.pulses",
    "slip bobbin-that-fills/log.pulses --wheel bobbin-that-fills/wheel.toml",
    "cadence steady-minute-and-a-half/log.pulses --treadles single",
    "check every-line-fault/log.pulses",
    "twist skein-gone-soft/log.pulses --plan skein-gone-soft/plan.toml",
    "twist bobbin-that-fills/log.pulses --wheel bobbin-that-fills/wheel.toml",
    "twist first-skein/log.pulses --total 10m",
    "compare first-skein/log.pulses skein-gone-soft/log.pulses",
    "survey unlabelled-wheel/log.pulses --draft 4cm",
    "sample first-skein/log.pulses --gauge 25cm --turns 48,50,47",
    "ply --singles 8tpi --singles 8tpi --ply 5tpi",
    "plan first-skein/plan.toml --wheel first-skein/wheel.toml --draft 3cm --mass 100g",
    "tally --wheel-turns 20 --flyer-turns 124",
    "calibrate first-skein/log.pulses --length 10m --pulls 1",
    "gather every-line-fault/ -o TABLE",
    "demo",
)


def options_of(command: str) -> set[str]:
    """Return a command's long options without their dashes; of the program itself for the empty name."""
    import typer

    group: Any = typer.main.get_command(app)
    found = group.get_command(None, command) if command else group
    return {o[2:] for p in found.params for o in (*p.opts, *p.secondary_opts) if o.startswith("--")}


def commands_and_options() -> Iterator[str]:
    """Yield commands, and every long option without its dashes."""
    yield from COMMANDS
    for command in ("", *COMMANDS):
        yield from options_of(command)


def findings() -> Iterator[str]:
    """Yield the findings' names, of every part of the catalogue that has some."""
    from whorlpulse.findings import catalogue

    for part in pkgutil.iter_modules(catalogue.__path__, f"{catalogue.__name__}."):
        yield from getattr(importlib.import_module(part.name), "FINDINGS", {})


def states() -> Iterator[str]:
    """Yield the states that answers can be in, and where figures come from: every choice of words in the results."""
    for part in ("rig.py", "length.py", "estimators/*.py", "findings/*.py"):
        for file in PACKAGE.glob(part):
            for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Subscript) and getattr(node.value, "id", "") == "Literal":
                    yield from (c.value for c in ast.walk(node.slice) if isinstance(c, ast.Constant) and c.value)


def file_keys() -> Iterator[str]:
    """Yield the keys of the sample wheel and plan files, and the keys with a meaning in a log."""
    import tomllib

    for file in SAMPLES.glob("*/*.toml"):
        yield from _keys(tomllib.loads(file.read_text()))
    page = (SAMPLES.parent / "firmware-notes" / "line-protocol.md").read_text()
    yield from re.findall(r"^\| `([a-z_]+)` \|", page, re.MULTILINE)


def json_keys() -> Iterator[str]:
    """Yield the keys of every object that the commands of ASKED print; a command that fails is an AssertionError."""
    with tempfile.TemporaryDirectory() as folder:
        for line in ASKED:
            words = [str(SAMPLES / w) if "/" in w else w for w in line.replace("TABLE", f"{folder}table.jsonl").split()]
            said = io.StringIO()
            with contextlib.redirect_stdout(said):
                assert run([*words, "--json"]) == 0, line
            yield from _keys(json.loads(said.getvalue()))


def written_keys() -> Iterator[str]:
    """Yield the keys that stand in the views' code: those too that no sample brings out."""
    for file in (PACKAGE / "views").glob("*.py"):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        whole = file.stem.endswith("_json")
        for function in (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)):
            if whole or function.name.startswith("json_") or function.name == "as_object":
                yield from _literal_keys(function)


def live_keys() -> Iterator[str]:
    """Yield the keys and the states of the live page's documents, from its own description of them."""
    from whorlpulse.live_page.room_schema import FIGURE, room_schema

    yield from _described(room_schema(whole=True))
    yield from _described(FIGURE)


def columns() -> Iterator[str]:
    """Yield the columns of gather's table."""
    from whorlpulse.findings.gathered import COLUMNS

    yield from (column.name for column in COLUMNS)


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


def _literal_keys(function: ast.FunctionDef) -> Iterator[str]:
    for node in ast.walk(function):
        if isinstance(node, ast.Dict):
            yield from (k.value for k in node.keys if isinstance(k, ast.Constant) and isinstance(k.value, str))


def _described(schema: Any) -> Iterator[str]:
    if isinstance(schema, list):
        for part in schema:
            yield from _described(part)
    if isinstance(schema, dict):
        yield from schema.get("properties", ())
        yield from (word for word in schema.get("enum", ()) if word)
        for key in ("properties", "items", "additionalProperties"):
            part = schema.get(key)
            yield from _described(list(part.values()) if key == "properties" and part else part)
