"""The bench card against the simulated truth, and what the command does with what it is given."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from whorlpulse.cli.capture_folder import write_capture
from whorlpulse.simulate import scenario, simulate


def truth_of(place):
    return json.loads((place / "truth.json").read_text())


def test_each_whorls_ratio_is_the_shafts_own(whorlpulse, bench):
    said = whorlpulse("survey", bench / "log.pulses", "--wheel", bench / "wheel.toml", "--json").json
    truth = truth_of(bench)["runs"]
    assert [w["name"] for w in said["whorls"]] == [r["whorl"] for r in truth] == ["large", "middle", "small"]
    for whorl, run in zip(said["whorls"], truth, strict=True):
        # The truth is of the whole run, starts and stops too: the interval is of another such run, and holds it.
        assert whorl["ratio"]["low"] <= run["ratio"] <= whorl["ratio"]["high"]
        assert whorl["no_slip_ratio"]["low"] <= run["no_slip_ratio"] <= whorl["no_slip_ratio"]["high"]
        true_slip = 100.0 * (1.0 - run["ratio"] / run["no_slip_ratio"])
        assert whorl["slip_percent"]["low"] <= true_slip <= whorl["slip_percent"]["high"]


def test_intervals_hold_the_truth_on_many_wheels(whorlpulse, tmp_path):
    held = total = 0
    for seed in range(11, 16):
        place = tmp_path / str(seed)
        write_capture(str(place), simulate(scenario("three-whorls"), seed), replace=False)
        said = whorlpulse("survey", place / "log.pulses", "--json").json
        for whorl, run in zip(said["whorls"], truth_of(place)["runs"], strict=True):
            total += 1
            held += whorl["ratio"]["low"] <= run["ratio"] <= whorl["ratio"]["high"]
            assert whorl["ratio"]["value"] == pytest.approx(run["ratio"], rel=2e-4)  # the bar of a clean log
    assert total == 15
    assert held >= 12  # 95 % of 15; fewer than 12 has a chance of 5 in 1000


def test_bursts_are_left_out_of_the_ratio_and_counted_as_slip(whorlpulse, slack):
    said = whorlpulse("survey", slack / "log.pulses", "--wheel", slack / "wheel.toml", "--json").json
    truth = truth_of(slack)
    (run,), (whorl,) = truth["runs"], said["whorls"]
    lost = sum(b["lost_turns"] for b in truth["bursts"])
    assert lost > 2.5
    assert whorl["bursts"] == len(truth["bursts"])
    # Lost turns over about 85 wheel turns: 0.4 % of the ratio; what is left of it in the card is below a tenth of that.
    assert whorl["ratio"]["value"] == pytest.approx((run["flyer_turns"] + lost) / run["wheel_turns"], rel=4e-4)
    assert whorl["made_ratio"]["value"] < whorl["ratio"]["value"] * 0.997
    assert whorl["slip_percent"]["value"] == pytest.approx(
        100.0 * (1.0 - run["ratio"] / run["no_slip_ratio"]), abs=0.15
    )


def test_twist_at_a_draft_is_ratio_over_draft(whorlpulse, bench):
    said = whorlpulse("survey", bench / "log.pulses", "--draft", "1 1/2 in", "--json").json
    for whorl in said["whorls"]:
        assert whorl["twist_tpi"] == pytest.approx(whorl["ratio"]["value"] / 1.5)
        assert whorl["twist_tpm"] == pytest.approx(whorl["ratio"]["value"] / 0.0381)
    low, middle, high = said["whorls"]
    assert low["best_from_tpi"] is None
    assert high["best_to_tpi"] is None
    assert low["best_to_tpi"] == middle["best_from_tpi"]
    # The border is as many times above the one's twist as below the other's.
    assert low["best_to_tpi"] / low["twist_tpi"] == pytest.approx(middle["twist_tpi"] / middle["best_from_tpi"])


def test_a_reference_log_gives_slip_at_working_load(whorlpulse, tmp_path):
    """The same whorl, slow and with a fresh band, then with a slack one: the slip is the difference of the truths."""
    base = scenario("steady")
    tight = replace(base, band=replace(base.band, stiffness_n=900.0))
    loose = replace(base, band=replace(base.band, stiffness_n=30.0))
    for name, case in (("tight", tight), ("loose", loose)):
        write_capture(str(tmp_path / name), simulate(case, 2), replace=False)
    said = whorlpulse(
        "survey", tmp_path / "loose" / "log.pulses", "--reference", tmp_path / "tight" / "log.pulses", "--json"
    ).json
    (whorl,) = said["whorls"]
    ratios = [truth_of(tmp_path / name)["ratio"] for name in ("tight", "loose")]
    assert whorl["no_slip_source"] == "other-capture"
    assert whorl["slip_percent"]["value"] == pytest.approx(100.0 * (1.0 - ratios[1] / ratios[0]), abs=0.05)
    assert whorl["slip_percent"]["low"] > 0.0


def test_the_text_shows_what_the_json_has(whorlpulse, bench):
    words = ("survey", bench / "log.pulses", "--wheel", bench / "wheel.toml", "--draft", "3 cm")
    text, said = whorlpulse(*words).out, whorlpulse(*words, "--json").json
    for whorl in said["whorls"]:
        half = whorl["ratio"]["high"] - whorl["ratio"]["value"]
        shown = [float(r) for r in re.findall(r"([0-9.]+) ± [0-9.]+ ", text)]
        assert min(abs(r - whorl["ratio"]["value"]) for r in shown) < 0.5 * half
        assert f"{whorl['twist_tpi']:.2f} tpi ({whorl['twist_tpm']:.0f} tpm)" in text
    assert said["date"] in text
    assert said["simulated"] is True
    assert "Simulated: no wheel was there." in text
    assert max(map(len, text.splitlines())) <= 80


def test_how_to_measure_comes_without_a_log(whorlpulse):
    ran = whorlpulse("survey", "--how")
    assert ran.code == 0
    for said in ("6. ", "move the band", "± 0.1 %", "pacemakers", "record survey.pulses"):
        assert said in ran.out.replace("\n     ", " ")


def test_a_finer_wish_takes_longer(whorlpulse):
    seconds = [
        int(re.search(r"for (\d+)\s+s\s+at", whorlpulse("survey", "--how", "--within", within).out)[1])
        for within in ("0.2", "0.1 %", "0.05 %")
    ]
    assert seconds == sorted(seconds)
    assert seconds[2] > 3 * (seconds[1] - 10)  # half the ±, four times the turns


def test_a_log_that_is_too_short_says_how_and_ends_with_one(whorlpulse, bench, tmp_path):
    short = tmp_path / "short.pulses"
    short.write_bytes(b"".join((bench / "log.pulses").read_bytes().splitlines(keepends=True)[:30]))
    ran = whorlpulse("survey", short, "-o", tmp_path / "card.html", "--save", tmp_path / "wheel.toml")
    assert ran.code == 1
    assert "How to survey" in ran.out
    assert ran.err.count("\n") == 1
    assert not (tmp_path / "card.html").exists()
    assert not (tmp_path / "wheel.toml").exists()
    said = whorlpulse("survey", short, "--json")
    assert said.code == 1
    assert said.json["whorls"] == []
    assert len(said.json["guide"]) == 6


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "name a log"),
        (("LOG", "--within", "0"), "--within"),
        (("LOG", "--within", "9 %"), "--within"),
        (("LOG", "--draft", "12"), "--draft"),
        (("LOG", "--wheel", "nowhere.toml"), "nowhere.toml"),
    ],
)
def test_misuse_is_one_line(whorlpulse, bench, words, says):
    ran = whorlpulse("survey", *(str(bench / "log.pulses") if w == "LOG" else w for w in words))
    assert ran.code == 2
    assert says in ran.err
    assert ran.err.count("\n") == 1


def test_a_card_that_is_there_is_not_overwritten_unasked(whorlpulse, bench, tmp_path):
    place = tmp_path / "card.html"
    place.write_text("mine")
    assert whorlpulse("survey", bench / "log.pulses", "-o", place).code == 2
    assert place.read_text() == "mine"
    assert whorlpulse("survey", bench / "log.pulses", "-o", place, "--replace").code == 0
    assert place.read_text().startswith("<!doctype html>")


def test_a_log_of_counts_has_a_card_without_bursts(whorlpulse, tmp_path):
    write_capture(str(tmp_path / "coarse"), simulate(scenario("coarse-clock"), 1), replace=False)
    log = tmp_path / "coarse" / "log.pulses"
    assert "several turns each" in " ".join(whorlpulse("survey", log).out.split())
    ran = whorlpulse("survey", log, "--save", tmp_path / "new.toml")
    assert ran.code == 1
    assert not (tmp_path / "new.toml").exists()


def test_doubtful_counts_are_said_first_and_never_saved(whorlpulse, tmp_path):
    """The sample capture with wheel and flyer exchanged."""
    log = Path(__file__).parents[2] / "sample-captures" / "swapped-channels" / "log.pulses"
    card = tmp_path / "card.html"
    ran = whorlpulse("survey", log, "--save", tmp_path / "new.toml")
    assert ran.code == 1
    assert ran.out.index("Do not use these ratios") < ran.out.index("0.11")
    assert not (tmp_path / "new.toml").exists()
    assert whorlpulse("survey", log, "-o", card).code == 0
    assert "Do not use these ratios" in card.read_text()


def test_a_log_that_is_no_good_for_another_reason_has_that_reason_alone(whorlpulse):
    log = Path(__file__).parents[2] / "sample-captures" / "board-restarted" / "log.pulses"
    ran = whorlpulse("survey", log)
    assert (ran.code, ran.out) == (1, "")
    assert "clock jumps back" in ran.err
