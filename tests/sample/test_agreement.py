"""Do yarn and log agree, and what could explain it if not: by hand, by printed examples, and how often it is right."""

import math
import string

import numpy as np
import pytest
from scipy import stats

from whorlpulse.estimators.agreement import against_range, agreement
from whorlpulse.estimators.measured import Measured
from whorlpulse.findings.catalogue.sample import FINDINGS
from whorlpulse.findings.sample_rules import Clues, explanations
from whorlpulse.rig import Length

INCH = 0.0254


def of(half_width):
    """A standard uncertainty by the half width of the 95 % interval."""
    return half_width / 1.959964


@pytest.mark.parametrize(
    ("apart", "half", "verdict"),
    [
        (0.0, 9.0, "agree"),
        (5.0, 4.0, "agree"),  # surely different, but by less than matters
        (0.0, 11.0, "undecided"),
        (8.0, 9.0, "undecided"),
        (12.0, 9.0, "disagree"),
        (-12.0, 9.0, "disagree"),
        (30.0, 1.0, "disagree"),
    ],
)
def test_verdict_by_hand(apart, half, verdict):
    assert agreement(Measured(200.0, 0.0), Measured(200.0 + apart, of(half)), 10.0).verdict == verdict


def test_difference_is_welchs():
    rng = np.random.default_rng(3)
    a, b = rng.normal(200, 5, 6), rng.normal(190, 15, 9)
    means = [Measured(float(np.mean(x)), float(stats.sem(x)), len(x) - 1) for x in (a, b)]
    found = agreement(*means, 1.0).difference
    welch = stats.ttest_ind(b, a, equal_var=False)
    interval = welch.confidence_interval(0.95)
    # our t between whole degrees of freedom is a little wide, by less than 0.0035 here
    assert found.low == pytest.approx(interval.low, rel=2e-3)
    assert found.high == pytest.approx(interval.high, rel=2e-3)


def test_how_often_verdicts_are_wrong():
    rng = np.random.default_rng(5)
    trials = 3000
    same = {"agree": 0, "disagree": 0, "undecided": 0}
    edge = dict(same)
    for _ in range(trials):
        log = Measured(200.0 + rng.normal(), 1.0)
        for true, told in ((200.0, same), (210.0, edge)):
            x = rng.normal(true, 8.0, 10)
            yarn = Measured(float(x.mean()), float(stats.sem(x)), 9)
            told[agreement(log, yarn, 10.0).verdict] += 1
    # equal yarns are said to disagree at most as often as a 95 % interval misses zero
    assert same["disagree"] / trials < 0.05 + 3 * math.sqrt(0.05 * 0.95 / trials)
    assert same["agree"] / trials > 0.5
    # a difference just of account is passed over as agreement in one tail only: 2.5 %
    assert edge["agree"] / trials < 0.025 + 3 * math.sqrt(0.025 * 0.975 / trials)


def test_places_in_a_range():
    for value, u, place in ((10.0, 0.1, "on-plan"), (8.0, 0.1, "under"), (13.0, 0.1, "over"), (9.0, 0.1, "undecided")):
        assert against_range(Measured(value, u), 9.0, 12.0) == place
    with pytest.raises(ValueError, match="margin"):
        agreement(Measured(1.0, 0.1), Measured(1.0, 0.1), 0.0)


def explained(apart_tpm, u=0.3, log=200.0, **clues):
    yarn, of_log = Measured(log + apart_tpm, u), Measured(log, u)
    found = explanations(yarn, of_log, agreement(of_log, yarn, 0.01 * log), Clues(**clues))
    return {f.id: f for f in found}


@pytest.mark.parametrize(
    ("bobbin_m", "apart_tpm", "tolerance"),
    [
        (0.025, 12.73, 0.005),  # Rieter Manual of Spinning, variation in yarn twist, read: 25 mm, 12.73 turns/m
        (1.5 * INCH / math.pi, 1 / 1.5 / INCH, 0.2),  # Draper 1896, read: 1.5 in round loses .67 turns an inch
        (3.0 * INCH / math.pi, 1 / 3.0 / INCH, 0.2),  # and 3 in round .33
    ],
)
def test_over_the_bobbins_end(bobbin_m, apart_tpm, tolerance):
    for sign in (-1, 1):
        found = explained(sign * apart_tpm, bobbin=(bobbin_m, bobbin_m))["sample-over-end"]
        assert found.confidence > 0.5
        assert found.figures["low"] == pytest.approx(apart_tpm, abs=tolerance)
        # without the bobbin's size it says which would do
        guessed = explained(sign * apart_tpm)["sample-over-end"]
        assert guessed.confidence < 0.5
        assert guessed.figures["would_cm"] == pytest.approx(100 * bobbin_m, rel=2e-3)
    # a bobbin four times as thick can't have done it, and is not blamed
    assert "sample-over-end" not in explained(apart_tpm, bobbin=(4 * bobbin_m, 4 * bobbin_m))


def test_contraction_explains_more_twist_on_the_yarn_only():
    # 10 tpi of twisted yarn are 9.5 of drafted at R = 0.05 (follows from ISO 2061's definition)
    log, yarn = 9.5 / INCH, 10.0 / INCH
    found = explained(yarn - log, log=log)["sample-contraction"]
    assert found.figures["percent"].value == pytest.approx(5.0)
    assert found.confidence < 0.5
    measured = explained(yarn - log, log=log, shortening=Measured(0.05, 0.005))["sample-contraction"]
    assert measured.confidence > 0.5
    # what untwisting showed rules it out, and so does less twist on the yarn, or far more
    assert "sample-contraction" not in explained(yarn - log, log=log, shortening=Measured(0.0, 0.005))
    assert "sample-contraction" not in explained(log - yarn, log=yarn)
    assert "sample-contraction" not in explained(100.0, log=200.0)


def test_a_wrong_roller_is_reckoned():
    # taken for 10 cm while a turn takes in 9: the log has too much length, 10/9, and too little twist
    found = explained(200.0 / 9, length=Measured(20.0, 0.01), roller=Length(0.10))["sample-length"]
    assert found.figures["would_cm"].value == pytest.approx(9.0)
    assert found.figures["would"].value == pytest.approx(18.0)
    assert found.figures["roller_cm"].value == pytest.approx(10.0)
    assert "sample-length" not in explained(20.0)  # no length known, none blamed


def test_lost_turns_only_where_the_yarn_has_less():
    assert "sample-turns-lost" not in explained(20.0)
    found = explained(-20.0)["sample-turns-lost"]
    assert found.figures["percent"].value == pytest.approx(10.0)


def test_nothing_is_explained_where_nothing_disagrees():
    assert explained(0.5, u=3.0) == {}
    assert explained(20.0, u=30.0) == {}


def test_explanations_come_likeliest_first():
    found = list(explained(12.73, bobbin=(0.025, 0.025), length=Measured(20.0, 0.01)).values())
    assert [f.confidence for f in found] == sorted((f.confidence for f in found), reverse=True)
    assert found[0].id == "sample-over-end"
    assert all(0 < f.confidence <= 0.6 for f in found)  # hypotheses, never certainties


def test_every_explanation_has_words():
    for key, entry in FINDINGS.items():
        for sentence in (entry.says, *entry.evidence, entry.do):
            assert sentence.endswith("."), key
            assert list(string.Formatter().parse(sentence)), key
