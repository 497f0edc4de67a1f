"""`whorlpulse check` as a user types it: answer first, the keys of the format, one line for what goes wrong."""

from __future__ import annotations

import string
from dataclasses import replace
from pathlib import Path

import pytest

from whorlpulse.findings.catalogue import sample, sensors, slip, yarn_length
from whorlpulse.simulate import LineFaults, scenario, simulate


@pytest.fixture(scope="module")
def logs(tmp_path_factory):
    """A folder of simulated logs."""
    place = tmp_path_factory.mktemp("logs")
    steady = scenario("steady")
    cases = {
        name: scenario(name) for name in ("steady", "faulty-sensors", "bad-line", "uneven-magnets", "coarse-clock")
    }
    cases["swapped"] = replace(steady, line_faults=LineFaults(swapped=("w", "f")))
    for name, case in cases.items():
        (place / f"{name}.pulses").write_bytes(simulate(case, 1).log)
    return place


def test_the_answer_comes_first(logs, whorlpulse):
    healthy = whorlpulse("check", logs / "steady.pulses")
    assert (healthy.code, healthy.err) == (0, "")
    assert healthy.out.lstrip().startswith("Nothing wrong: 853 pulses in 89.0 s examined.")
    sick = whorlpulse("check", logs / "faulty-sensors.pulses")
    assert sick.code == 0
    assert sick.out.lstrip().startswith("3 things to look at; the worst: The flyer sensor misses pulses: ")
    assert (
        whorlpulse("check", logs / "swapped.pulses").out.lstrip().startswith("One thing to look at: Wheel and flyer ")
    )


def test_findings_come_with_why_and_what_to_try_then_channels_then_lines(logs, whorlpulse):
    out = whorlpulse("check", logs / "bad-line.pulses").out
    places = [
        out.index(words) for words in ("● 30 lines never arrived", "Why:", "Try:", "w wheel", "f flyer", " lost;")
    ]
    assert places == sorted(places)
    assert all(len(line) <= 96 for line in out.splitlines())


def test_json_has_the_keys_of_the_format(logs, whorlpulse):
    ran = whorlpulse("check", logs / "faulty-sensors.pulses", "--json")
    assert ran.code == 0
    found = ran.json
    assert found["capture"] == "faulty-sensors.pulses"
    assert isinstance(found["schema"], int)
    assert {"total", "pulses", "malformed", "bad_checksum", "lost", "torn_tail"} <= found["lines"].keys()
    keys = {"pulses", "missed", "extra", "targets", "target_angles_turns", "timing_noise_s"}
    assert all(keys <= channel.keys() for channel in found["channels"].values())
    assert set(found["channels"]) == {"w", "f"}
    assert found["duration_s"] == pytest.approx(89.0, abs=0.01)
    for finding in found["findings"]:
        assert {"id", "says", "confidence", "evidence", "try"} <= finding.keys()
        assert 0.0 <= finding["confidence"] <= 1.0


@pytest.mark.parametrize("name", ["steady", "coarse-clock", "swapped"])
def test_what_is_null_has_its_reason_among_the_notes(logs, whorlpulse, name):
    found = whorlpulse("check", logs / f"{name}.pulses", "--json").json
    for letter, shaft in (("w", "Wheel"), ("f", "Flyer")):
        if any(value is None for value in found["channels"][letter].values()):
            assert any(note.startswith((f"{shaft}:", "Missed and extra")) for note in found["notes"])


def test_targets_can_be_given(logs, whorlpulse):
    right = whorlpulse("check", logs / "uneven-magnets.pulses", "--json").json
    wrong = whorlpulse("check", logs / "uneven-magnets.pulses", "--targets", "w=1", "--json").json
    assert "wheel-targets" in [f["id"] for f in wrong["findings"]]
    assert "wheel-targets" not in [f["id"] for f in right["findings"]]
    assert len(right["channels"]["w"]["target_angles_turns"]) == 4
    assert wrong["channels"]["w"]["target_angles_turns"] is None


def test_a_header_that_stops_other_commands_is_a_finding_here(tmp_path, whorlpulse):
    log = tmp_path / "odd.pulses"
    log.write_bytes(simulate(scenario("steady"), 1).log.replace(b"# targets: w=1 f=1", b"# targets: many"))
    ran = whorlpulse("check", log, "--json")
    assert ran.code == 0
    assert [f["id"] for f in ran.json["findings"]] == ["header-value"]


@pytest.mark.parametrize(
    ("content", "code", "words"),
    [
        (b"", 1, "empty"),
        (b"# format: pulses 1\n# board: a\n", 1, "no pulse line"),
        (b"\x00\x01\x02\xff" * 400, 2, "no pulse log"),
        (b"# format: pulses 7\nw,1\n", 2, "pulses 7"),
    ],
)
def test_what_cannot_be_examined_is_one_line_and_a_code(tmp_path, whorlpulse, content, code, words):
    log = tmp_path / "odd.pulses"
    log.write_bytes(content)
    ran = whorlpulse("check", log)
    assert (ran.code, ran.out) == (code, "")
    assert len(ran.err.splitlines()) == 1
    assert words in ran.err


def test_a_directory_and_a_missing_file_are_one_line(tmp_path, whorlpulse):
    for place in (tmp_path, tmp_path / "none.pulses"):
        ran = whorlpulse("check", place)
        assert ran.code == 2
        assert len(ran.err.splitlines()) == 1


@pytest.mark.parametrize("content", [b"k,1000000\nk,2000000\n", b"w,1\n", b"f,5\nf,50000\n", b"w,9,1*00\n# note: x\n"])
def test_next_to_nothing_is_still_examined(tmp_path, whorlpulse, content):
    log = tmp_path / "little.pulses"
    log.write_bytes(content)
    ran = whorlpulse("check", log, "--json")
    assert ran.code == 0
    assert ran.json["findings"][0]["id"] != "log-healthy"


def test_every_finding_has_words_that_end_as_sentences():
    for key, entry in sensors.FINDINGS.items():
        for sentence in (entry.says, *entry.evidence, entry.do):
            assert sentence.endswith("."), key
            assert list(string.Formatter().parse(sentence)), key


def test_the_documentation_has_a_section_for_each_finding():
    page = (Path(__file__).parents[2] / "docs" / "findings.md").read_text(encoding="utf-8")
    headings = {line.removeprefix("### `").removesuffix("`") for line in page.splitlines() if line.startswith("### `")}
    assert headings == set(sensors.FINDINGS) | set(slip.FINDINGS) | set(sample.FINDINGS) | set(yarn_length.FINDINGS)
