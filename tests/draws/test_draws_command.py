"""Draws in `twist`: JSON keys and their sums, text, the list, and why there are none."""

import json

import pytest

from whorlpulse.simulate import draw_times, scenario, simulate

KEYS = {"start_s", "end_s", "length_m", "flyer_turns", "twist_tpi", "twist_tpm", "wheel_turns"}


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    """Return a function that writes a scenario's log and gives its path and its true draws."""
    place = tmp_path_factory.mktemp("draws")

    def written(name, seed=1):
        capture = simulate(scenario(name), seed)
        path = place / f"{name}.pulses"
        path.write_bytes(capture.log)
        return path, draw_times(capture.truth)

    return written


def test_json_lists_the_draws_and_they_add_up(whorlpulse, log):
    path, truth = log("long-draw")
    ran = whorlpulse("twist", path, "--json")
    assert (ran.code, ran.err) == (0, "")
    said = ran.json
    assert len(said["draws"]) == len(truth)
    assert all(set(d) >= KEYS for d in said["draws"])
    assert sum(d["length_m"] for d in said["draws"]) == pytest.approx(said["length_m"], rel=1e-9)
    assert sum(d["flyer_turns"] for d in said["draws"]) == pytest.approx(said["flyer_turns"], abs=1.5)
    for d, x in zip(said["draws"], truth, strict=True):
        assert d["end_s"] == pytest.approx(x.end_s, abs=0.3)
        assert d["winding_s"] == pytest.approx(x.winding_s, abs=0.3)
        assert d["twist_tpm"] == pytest.approx(d["flyer_turns"] / d["length_m"])
        assert d["twist_tpi"] * 1000 / 25.4 == pytest.approx(d["twist_tpm"])  # 1 in = 25.4 mm
        assert 0 < d["waiting_turns"] < d["flyer_turns"]
    assert said["rhythm"]["take_up"] == "draws"
    assert said["rhythm"]["seen_by"] == "roller"
    assert said["rhythm"]["draws"] == len(truth)
    assert said["waiting_turns"] > 0


def test_text_has_the_rhythm_in_short_and_all_draws_when_asked(whorlpulse, log):
    path, truth = log("long-draw")
    short = whorlpulse("twist", path).out
    flat = " ".join(short.split())
    assert f"Draws: {len(truth)}, parted by the roller's pauses." in flat
    assert "wheel turns" in flat
    assert "% of its turns wait in the drafted yarn" in flat
    assert "--draws lists them all" in flat
    listed = whorlpulse("twist", path, "--draws").out
    rows = [line.split() for line in listed.splitlines() if line.strip()[:2].strip().isdigit() and " – " in line]
    rows = [row for row in rows if len(row) >= 9 and "●" not in " ".join(row)]
    assert [int(row[0]) for row in rows] == list(range(1, len(truth) + 1))
    assert max(map(len, (short + listed).splitlines())) <= 80


def test_park_and_draft_is_named(whorlpulse, log):
    path, truth = log("park-and-draft")
    flat = " ".join(whorlpulse("twist", path).out.split())
    assert f"park and draft, the wheel stood during {len(truth)} of them" in flat
    assert whorlpulse("twist", path, "--json").json["rhythm"]["take_up"] == "parked"


@pytest.mark.parametrize(
    ("name", "words", "take_up"),
    [("worsted-style", "went in while it was drafted", "continuous"), ("steady", "", None)],
)
def test_without_draws_the_list_is_empty_and_the_reason_said(whorlpulse, log, name, words, take_up):
    path, _ = log(name)
    ran = whorlpulse("twist", path, "--json")
    said = json.loads(ran.out)
    assert said["draws"] == []
    assert (said["rhythm"] and said["rhythm"]["take_up"]) == take_up
    assert any(words in n for n in said["notes"])


def test_a_total_alone_shows_no_draws_and_says_what_would(whorlpulse, log):
    path, _ = log("steady")
    said = whorlpulse("twist", path, "--total", "3.4 m", "--json").json
    assert said["draws"] == []
    assert any("a roller, a bobbin sensor or length lines would" in n for n in said["notes"])


def test_a_total_is_shared_out_over_the_rollers_draws(whorlpulse, log):
    path, truth = log("long-draw")
    said = whorlpulse("twist", path, "--total", "20.00 m", "--json").json
    assert said["length_source"] == "total"
    assert len(said["draws"]) == len(truth)
    assert sum(d["length_m"] for d in said["draws"]) == pytest.approx(20.0)


@pytest.mark.parametrize("total", [None, "13.00 m"])
def test_the_bobbin_shows_draws_where_there_is_no_roller(whorlpulse, tmp_path, total):
    capture = simulate(scenario("filling-bobbin"), 3)
    truth = draw_times(capture.truth)
    log, wheel = tmp_path / "log.pulses", tmp_path / "wheel.toml"
    log.write_bytes(capture.log)
    wheel.write_text(capture.wheel_toml)
    given = () if total is None else ("--total", total)
    said = whorlpulse("twist", log, "--wheel", wheel, *given, "--json").json
    assert (said["rhythm"]["take_up"], said["rhythm"]["seen_by"]) == ("draws", "bobbin")
    assert len(said["draws"]) in (len(truth), len(truth) + 1)  # the log's end may cut one off while it winds on
    for d, x in zip(said["draws"], truth, strict=False):
        assert d["end_s"] == pytest.approx(x.end_s, abs=0.3)
        assert d["winding_s"] == pytest.approx(x.winding_s, abs=0.3)
    if total is not None:
        assert said["length_source"] == "total"
        assert sum(d["length_m"] for d in said["draws"]) == pytest.approx(13.0, rel=0.01)


@pytest.mark.parametrize("name", ["long-draw", "skein-on-plan"])
def test_by_a_total_too_the_turns_after_the_last_take_up_wait(whorlpulse, log, name):
    """The total is that of the yarn taken up: with the roller's last passage the twist is right, the design's 0.5 %."""
    for seed in range(1, 5):
        path, _ = log(name, seed)
        truth = simulate(scenario(name), seed).truth
        said = whorlpulse("twist", path, "--total", f"{truth.length_m:.3f} m", "--json").json
        assert said["twist_tpm"]["value"] == pytest.approx(truth.twist_tpm, rel=5e-3)
        assert said["flyer_turns"] + said["waiting_turns"] == pytest.approx(
            sum(run.flyer_turns for run in truth.runs), abs=1.5
        )
