"""The glossary knows every word in the names that a user meets, and the names in code that it gives are there.

A made-up word fails; so does a plain word that no name uses any more.
"""

import io
import re
import tokenize
from pathlib import Path

import pytest
from named_words import (
    ASKED,
    columns,
    commands_and_options,
    file_keys,
    findings,
    json_keys,
    live_keys,
    options_of,
    states,
    words_in,
    written_keys,
)

from whorlpulse.cli.app import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "glossary.md").read_text(encoding="utf-8")
TABLE, _, PLAIN_PART = PAGE.partition("## Plain words")
ROWS = [
    [cell.strip() for cell in line.strip("|\n ").split("|")] for line in re.findall(r"^\| .*$", TABLE, re.MULTILINE)
]
ROWS = [row for row in ROWS if row[0] not in ("word", "---")]
PLAIN = set(re.findall(r"`([a-z]+)`", PLAIN_PART))


def explained() -> set[str]:
    """The words of the glossary's first column, of its units' endings, and the states it spells out in its meanings."""
    first = {word.lower() for row in ROWS for word in re.findall(r"[A-Za-z]+", row[0])}
    endings = {word for name in re.findall(r"`_([a-z_]+[0-9]?)`", TABLE) for word in re.findall(r"[a-z]+", name)}
    spelled = {w for row in ROWS for name in re.findall(r"`([a-z-]+)`", row[4]) for w in name.split("-")}
    return first | endings | spelled


def known(word: str, words: set[str]) -> bool:
    """Whether a word, or its singular, is among the words."""
    return bool({word, word.removesuffix("s"), word.removesuffix("es"), f"{word}s"} & words)


@pytest.fixture(scope="module")
def named() -> dict[str, set[str]]:
    """The words of names, by where the names stand."""
    return {
        "commands and options": words_in(commands_and_options()),
        "findings": words_in(findings()),
        "states": words_in(states()),
        "files": words_in(file_keys()),
        "JSON": words_in(json_keys()) | words_in(written_keys()),
        "live": words_in(live_keys()),
        "gather": words_in(columns()),
    }


def unknown(named: dict[str, set[str]]) -> dict[str, list[str]]:
    """The words that the glossary doesn't have, by where they stand."""
    allowed = explained() | PLAIN
    found = {place: sorted(w for w in words if not known(w, allowed)) for place, words in named.items()}
    return {place: words for place, words in found.items() if words}


def test_every_word_of_every_name_is_explained_or_plain(named):
    assert unknown(named) == {}
    assert all(len(words) > 10 for words in named.values())  # each of them really was read


def test_a_word_that_nobody_explained_is_noticed(named):
    """An invented word in one place is found there, be it whole, a part of a name, or an ending."""
    for place, words in named.items():
        made_up = words_in(["frobnicity_percent", "--ness"])
        assert unknown({**named, place: words | made_up}) == {place: ["frobnicity", "ness"]}


def test_an_invented_option_and_column_and_key_would_be_read(monkeypatch):
    """What the test above is fed with comes from the program: one more there is one more here."""
    from whorlpulse.cli import simulate
    from whorlpulse.findings import gathered
    from whorlpulse.live_page import room_schema

    def simulating(gribble: bool = False) -> None: ...

    monkeypatch.setattr(simulate, "simulate", simulating)
    monkeypatch.setattr(gathered, "COLUMNS", (*gathered.COLUMNS, gathered.Column("gribble_m", float, False)))
    monkeypatch.setitem(room_schema._NOW, "gribble_tpm", {"type": "number"})
    for names in (commands_and_options(), columns(), live_keys()):
        assert "gribble" in words_in(names)


def test_every_command_that_prints_json_is_asked_for_it():
    asked = {line.split()[0] for line in ASKED}
    assert {name for name in COMMANDS if "json" in options_of(name)} == asked


def test_plain_words_are_used_and_are_not_explained_as_well(named):
    used = set().union(*named.values())
    assert sorted(w for w in PLAIN if not known(w, used)) == []
    assert sorted(PLAIN & explained()) == []


def test_every_row_has_its_five_cells_and_a_meaning_and_they_stand_in_order():
    assert len(ROWS) > 80
    for row in ROWS:
        assert len(row) == 5, row
        assert row[4], row
    heads = [re.sub(r"[^a-z ]", "", row[0].lower()) for row in ROWS]
    assert heads == sorted(heads)


def test_names_in_code_are_in_the_code():
    """As an identifier of the package, not just as letters in some text."""
    names: set[str] = set()
    for file in (ROOT / "logger" / "whorlpulse").rglob("*.py"):
        tokens = tokenize.generate_tokens(io.StringIO(file.read_text(encoding="utf-8")).readline)
        names |= {token.string for token in tokens if token.type == tokenize.NAME}
        names |= set(re.findall(r'"([a-z_0-9]+)"', file.read_text(encoding="utf-8")))  # keys of JSON objects
    given = [name for row in ROWS for name in re.findall(r"`([^`]+)`", row[2])]
    assert len(given) > 40
    assert [name for name in given if name not in names] == []
