"""`compare`: answer first, sides told apart, the JSON repeats it, exit codes."""

import json
import re

import pytest

from whorlpulse.cli.exits import run


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """A slipping band before, a firm one after, and a soft skein: one folder each."""
    place = tmp_path_factory.mktemp("compare")
    for name, seed in (("slipping-band", 3), ("skein-on-plan", 4), ("skein-soft", 5), ("bad-joint", 6), ("steady", 7)):
        assert run(["simulate", name, "-o", str(place / name), "--seed", str(seed)]) == 0
    return place


def logs(wheel, *names):
    return [wheel / name / "log.pulses" for name in names]


def test_the_verdict_comes_first_and_lines_fit(whorlpulse, wheel):
    ran = whorlpulse("compare", *logs(wheel, "bad-joint", "steady"), "--wheel", wheel / "steady" / "wheel.toml")
    assert (ran.code, ran.err) == (0, "")
    first = ran.out.splitlines()[0]
    # the joint costs 1 % in the mean
    assert re.match(r"  better by (0\.9\d?|1\.0\d?) points, sure", first)
    assert max(map(len, ran.out.splitlines())) <= 80
    assert "No longer found:" in ran.out


def test_json_says_the_same_with_ends(whorlpulse, wheel):
    words = ("compare", *logs(wheel, "bad-joint", "steady"), "--wheel", wheel / "steady" / "wheel.toml", "--json")
    ran = whorlpulse(*words)
    assert (ran.code, ran.err) == (0, "")
    said = ran.json
    assert {"schema", "capture", "notes", "before", "after", "whorls", "cadence_per_min"} <= set(said)
    (whorl,) = said["whorls"]
    slip = whorl["slip_percent"]
    assert slip["difference"]["low"] < slip["difference"]["value"] < slip["difference"]["high"] < 0
    assert (slip["sure"], slip["matters"], slip["change"]) == (True, True, "better")
    # the joint's loss is 1 % in the mean, in the simulator's own words
    truth = [json.loads((wheel / n / "truth.json").read_text()) for n in ("bad-joint", "steady")]
    true = truth[1]["creep_percent"] - truth[0]["creep_percent"]
    assert whorl["creep_percent"]["difference"]["value"] == pytest.approx(true, abs=0.1)
    assert whorl["reference"]["source"] == "wheel-file"
    (rhythm,) = [line for line in whorl["periodic"] if line["source"] == "band"]
    assert rhythm["change"] == "better"


def test_exchanged_logs_exchange_the_verdict(whorlpulse, wheel):
    there, back = (
        whorlpulse("compare", *pair, "--json").json["whorls"][0]["slip_percent"]
        for pair in (logs(wheel, "bad-joint", "steady"), logs(wheel, "steady", "bad-joint"))
    )
    assert back["change"] == "worse"
    assert back["difference"]["value"] == pytest.approx(-there["difference"]["value"], rel=1e-9)


def test_a_log_against_itself_shows_no_difference(whorlpulse, wheel):
    path = logs(wheel, "steady")[0]
    ran = whorlpulse("compare", path, path)
    assert ran.out.startswith("  no difference that these logs could show")
    assert "would have shown" in ran.out


def test_twist_is_compared_where_both_have_a_length(whorlpulse, wheel):
    said = whorlpulse("compare", *logs(wheel, "skein-on-plan", "skein-soft"), "--json").json
    truth = [json.loads((wheel / n / "truth.json").read_text())["twist_tpm"] for n in ("skein-on-plan", "skein-soft")]
    twist = said["twist_tpm"]
    # the bar for mean twist is 0.5 % each
    assert twist["difference"]["value"] == pytest.approx(truth[1] - truth[0], abs=0.007 * truth[0])
    assert twist["sure"]
    assert said["twist_tpi"]["difference"]["value"] == pytest.approx(0.0254 * twist["difference"]["value"])
    lone = whorlpulse("compare", *logs(wheel, "skein-on-plan", "steady"), "--json").json
    assert "twist_tpm" not in lone
    assert any("no length of yarn" in n for n in lone["notes"])


def test_a_log_that_can_not_say_is_named(whorlpulse, wheel, tmp_path):
    good = logs(wheel, "steady")[0]
    short = tmp_path / "short.pulses"
    short.write_bytes(b"".join(good.read_bytes().splitlines(keepends=True)[:40]))
    ran = whorlpulse("compare", good, short)
    assert ran.code == 1
    assert ran.err.startswith("whorlpulse: short.pulses: ")
    assert whorlpulse("compare", good, tmp_path / "none.pulses").code == 2
    assert whorlpulse("compare", good).code == 2
