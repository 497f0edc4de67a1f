"""Sources of length held against each other: agreement and disagreement of simulated yarn, and what is said of it."""

import json
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from tests.accuracy.trial import trial

from whorlpulse.estimators.length_agreement import LengthAgreement, LengthPair, length_agreement
from whorlpulse.estimators.measured import Measured
from whorlpulse.findings.catalogue.yarn_length import CAUSES, FINDINGS
from whorlpulse.findings.length_rules import length_findings, stands_alone
from whorlpulse.phase import flyer_count
from whorlpulse.rig import Length
from whorlpulse.simulate import LineFaults, Marks, Roller, scenario, simulate

LINED = replace(scenario("skein-on-plan"), marks=Marks())


def compared(case, seed, total=None, total_u_m=0.02):
    """Return what the sources of a simulated log say; total: given as this share of the true length."""
    made = trial(case, seed)
    rig = made.rig
    if total is not None:
        error = total_u_m * np.random.default_rng(seed).standard_normal()
        rig = replace(rig, total=Length(made.truth.length_m * total + error, total_u_m))
    return length_agreement(made.conditioned, rig, flyer_count(made.conditioned))


def pairs_of(found):
    return {(p.first, p.second): p for p in found.pairs}


def test_what_is_the_same_yarn_agrees_and_the_scatter_is_what_is_said():
    z = []
    for seed in range(40):
        found = compared(LINED, seed, total=1.0)
        assert all(p.agree for p in found.pairs)
        assert found.odd_lines == ()
        z += [p.apart.value / p.apart.u for p in found.pairs if "marks" in (p.first, p.second)]
        assert ("roller", "marks") in pairs_of(found)
        assert ("roller", "total") in pairs_of(found)
    # differences over their own u: a standard deviation of 1 would be right, 0.5 lavish
    assert 0.5 < np.std(z) < 1.15
    assert abs(np.mean(z)) < 0.3


@pytest.mark.parametrize("error", [0.03, -0.03])
def test_a_roller_whose_circumference_is_wrong_disagrees_by_as_much_and_stands_alone(error):
    for seed in range(10):
        found = compared(replace(LINED, roller=Roller(error=error)), seed, total=1.0)
        for other in ("marks", "total"):
            pair = pairs_of(found)[("roller", other)]
            assert not pair.agree
            # its true length per turn is 1 + error times what is stated, so it tells that much too little
            assert pair.apart.value == pytest.approx(error, abs=0.01)
        if ("marks", "total") in pairs_of(found):
            assert stands_alone(found) == "roller"
        assert found.odd_lines == ()


@pytest.mark.parametrize("stretched", [1.03, 0.97])
def test_a_stretched_or_shrunk_skein_disagrees(stretched):
    for seed in range(10):
        pair = pairs_of(compared(scenario("skein-on-plan"), seed, total=stretched))[("roller", "total")]
        assert not pair.agree
        assert pair.apart.value == pytest.approx(stretched - 1, abs=0.01)


def test_bobbin_and_roller_tell_the_same_length():
    """Both ends of the bobbin measured; the roller put beside it."""
    from tests.draws.ways import FOUR

    from whorlpulse.cli.inputs import wheel_at  # noqa: F401  the wheel file's reader
    from whorlpulse.cli.wheel_file import read_wheel
    from whorlpulse.simulate import Sensor

    base = scenario("filling-bobbin")
    case = replace(base, roller=Roller(), sensors=(*base.sensors, Sensor("y", FOUR, width=0.05)))
    off = []
    for seed in range(8):
        made = trial(case, seed)
        rig = read_wheel(made.capture.wheel_toml.encode(), "wheel.toml").onto(made.rig)
        (pair,) = length_agreement(made.conditioned, rig, flyer_count(made.conditioned)).pairs
        assert (pair.first, pair.second) == ("roller", "bobbin")
        assert pair.agree
        off.append(pair.apart.value)
    assert np.abs(off).max() < 0.05


def test_lost_lines_are_left_out_of_both_sides_and_a_total_is_not_compared():
    lossy = replace(LINED, line_faults=LineFaults(lost_blocks=(15, 15), garbled=6))
    for seed in range(15):
        found = compared(lossy, seed, total=1.0)
        assert ("roller", "total") in found.not_compared
        assert pairs_of(found)[("roller", "marks")].agree
        assert found.odd_lines == ()


def test_one_line_written_wrongly_is_named_and_no_other():
    made = trial(LINED, 4)
    marks = list(made.rig.length_marks)
    marks[7] = replace(marks[7], length=Length(10 * marks[7].length.m, 0.003))  # the point slipped
    rig = replace(made.rig, length_marks=tuple(marks))
    found = length_agreement(made.conditioned, rig, flyer_count(made.conditioned))
    (odd,) = found.odd_lines
    assert odd.line_m == pytest.approx(marks[7].length.m)
    assert odd.roller_m == pytest.approx(marks[7].length.m / 10, abs=0.03)
    assert [f.id for f in length_findings(found, "roller", Measured(205.0, 1.0))] == [
        "lengths-disagree",
        "length-line-odd",
    ]


def pair(first, second, a, b, u):
    return LengthPair(first, second, Measured(a, u), Measured(b, u), Measured(b / a - 1, u * np.hypot(1, b / a) / a))


def test_the_rule_by_hand():
    apart = pair("roller", "total", 10.0, 10.4, 0.05)
    assert not apart.agree
    assert pair("roller", "total", 10.0, 10.2, 0.05).agree  # 0.2 against 3 · 0.0714
    (finding,) = length_findings(LengthAgreement((apart,)), "total", Measured(200.0, 1.0))
    assert finding.figures["more"] == "more"
    assert finding.figures["tpm"] == pytest.approx(208.0)  # turns over 10.4 m gave 200, over 10 m it is 208
    (finding,) = length_findings(LengthAgreement((apart,)), "roller", Measured(200.0, 1.0))
    assert finding.figures["tpm"] == pytest.approx(200 / 1.04)


def test_every_pair_has_its_causes_and_every_finding_its_section():
    for first, second in combinations(("roller", "bobbin", "marks", "total"), 2):
        assert {f"{first}-{second}-more", f"{first}-{second}-less"} <= CAUSES.keys()
    page = (Path(__file__).parents[2] / "docs" / "findings.md").read_text(encoding="utf-8")
    for key in FINDINGS:
        assert f"### `{key}`" in page, key


def test_the_command_tells_the_disagreement_the_choice_and_the_other_twist(whorlpulse, tmp_path):
    capture = simulate(scenario("skein-on-plan"), 2)
    log = tmp_path / "log.pulses"
    log.write_bytes(capture.log)
    true = capture.truth.length_m
    ran = whorlpulse("twist", log, "--total", f"{1.06 * true:.2f} m", "--json")
    said = json.loads(ran.out)
    (finding,) = said["findings"]
    assert set(finding) >= {"id", "says", "confidence", "evidence", "try"}
    assert finding["id"] == "lengths-disagree"
    assert "Twist was reckoned with the given total" in finding["evidence"]
    assert "stretched" in finding["try"]
    assert finding["figures"]["tpm"] == pytest.approx(1.06 * said["twist_tpm"]["value"], rel=5e-3)
    (lengths,) = said["lengths"]
    assert (lengths["first"], lengths["second"], lengths["agree"]) == ("roller", "total", False)
    assert lengths["apart_percent"]["low"] < 6.0 < lengths["apart_percent"]["high"]
    text = whorlpulse("twist", log, "--total", f"{1.06 * true:.2f} m").out
    assert "● The given total has " in text
    assert max(map(len, text.splitlines())) <= 80
    calm = whorlpulse("twist", log, "--total", f"{true:.2f} m", "--json").json
    assert calm["findings"] == []
    assert any("agree" in n and "The twist goes by the given total" in n for n in calm["notes"])


def test_a_skeins_rounds_and_its_weight_are_totals(whorlpulse, tmp_path):
    capture = simulate(scenario("skein-on-plan"), 2)
    log = tmp_path / "log.pulses"
    log.write_bytes(capture.log)
    true = capture.truth.length_m
    rounds = whorlpulse("twist", log, "--total", f"{int(true / 1.5)} x 1.500 m + {true % 1.5:.2f} m", "--json").json
    assert rounds["length_m"] == pytest.approx(true, abs=0.01)
    assert rounds["lengths"][0]["agree"]
    weighed = whorlpulse("twist", log, "--total", f"{true / 8:.2f} g of 8.00 Nm", "--json").json
    assert weighed["length_m"] == pytest.approx(true, rel=0.01)
    assert weighed["length_source"] == "total"
