"""`sample` alone and against simulated logs whose truth is known."""

import math
from pathlib import Path

import numpy as np
import pytest

from whorlpulse.findings.catalogue.sample import FINDINGS
from whorlpulse.simulate import scenario, simulate

INCH = 0.0254


@pytest.fixture(scope="module")
def skein(tmp_path_factory):
    """A simulated skein, its truth, and twelve samples of 25 cm counted to whole turns on its true yarn."""
    capture = simulate(scenario("skein-on-plan"), 2)
    path = tmp_path_factory.mktemp("sample") / "log.pulses"
    path.write_bytes(capture.log)
    (path.parent / "plan.toml").write_text('[yarn]\ntwist = "5.2 tpi"\ntolerance = "10 %"\n')
    draws = capture.truth.along
    rng = np.random.default_rng(1)
    ends = np.array([d.to_m for d in draws])
    at = rng.uniform(0.3, ends[-1] - 0.3, 12)
    counts = [round(0.25 * draws[int(np.searchsorted(ends, x))].twist_tpm) for x in at]
    return path, capture.truth.twist_tpm, ",".join(map(str, counts))


def test_yarn_and_log_agree(whorlpulse, skein):
    path, true, counts = skein
    words = ("sample", path, "--gauge", "25.0 cm", "--turns", counts, "--plan", path.parent / "plan.toml")
    said = whorlpulse(*words, "--json").json
    assert said["agreement"] == "agree"
    assert said["findings"] == []
    assert said["verdict"] == "on-plan"
    assert said["samples"] == 12
    half = said["twist_tpm"]["high"] - said["twist_tpm"]["value"]
    assert said["twist_tpm"]["value"] == pytest.approx(true, abs=1.5 * half)
    assert half < 0.05 * true
    text = whorlpulse(*words).out
    assert "Yarn and log agree within 5 %" in " ".join(text.split())
    assert "counted on 12 samples of 25 cm" in text
    assert max(map(len, text.splitlines())) <= 80


def test_a_roller_taken_for_too_long_is_found_out(whorlpulse, skein):
    path, _, counts = skein
    # the simulated roller takes in 10.00 cm a turn; told 11 cm the log has too little twist
    words = ("sample", path, "--gauge", "25.0 cm", "--turns", counts, "--roller", "11.00 cm")
    said = whorlpulse(*words, "--json").json
    assert said["agreement"] == "disagree"
    length = next(f for f in said["findings"] if f["id"] == "sample-length")
    would = length["figures"]["would_cm"]
    assert would["value"] == pytest.approx(10.0, abs=3 * would["u"])
    assert 0.05 < would["u"] < 0.3
    assert "What could explain it" in whorlpulse(*words).out


def test_a_bobbin_that_cannot_have_done_it_is_told(whorlpulse, skein):
    path, _, counts = skein
    words = ("sample", path, "--gauge", "25.0 cm", "--turns", counts, "--roller", "14.00 cm", "--bobbin", "5 to 8 cm")
    said = whorlpulse(*words, "--json").json
    assert "sample-over-end" not in {f["id"] for f in said["findings"]}
    # one turn a wrap: 1 / (pi 8 cm) and 1 / (pi 5 cm)
    assert any("3.98 to 6.37 tpm" in n for n in said["notes"])


def test_an_untwisted_length_rules_contraction_out(whorlpulse, skein):
    path, _, counts = skein
    words = ("sample", path, "--gauge", "25.0 cm", "--turns", counts, "--roller", "11.00 cm")
    ids = {f["id"] for f in whorlpulse(*words, "--json").json["findings"]}
    assert "sample-contraction" in ids
    told = whorlpulse(*words, "--untwisted", "25.0,25.1,25.0 cm", "--json").json
    assert "sample-contraction" not in {f["id"] for f in told["findings"]}
    assert told["contraction_percent"]["value"] == pytest.approx(100 / 751, rel=1e-6)


def test_without_a_log(whorlpulse):
    said = whorlpulse("sample", "--gauge", "10 in", "--turns", "400,404,396", "--retwisted", "--json").json
    # halve, then divide by the length (ASTM D1422, a guide read): 400 on 10 in are 20 tpi
    assert said["twist_tpi"]["value"] == pytest.approx(20.0)
    assert said["samples_tpm"][0] * INCH == pytest.approx(20.0)
    assert (said["agreement"], said["log_twist_tpm"]) == (None, None)
    assert said["cv_percent"] == pytest.approx(1.0)  # standard deviation 4 of 400


def test_by_angle_and_diameter(whorlpulse):
    said = whorlpulse("sample", "--angle", "30", "--diameter", "0.300 mm", "--json").json
    # GATE 2014/TF/40's yarn, inputs read: tan 30 / (pi 0.3 mm)
    assert said["twist_tpm"]["value"] == pytest.approx(math.tan(math.radians(30)) / (math.pi * 0.3e-3))
    assert said["twist_by_angle_tpm"]["value"] == said["twist_tpm"]["value"]
    counted = whorlpulse("sample", "--gauge", "25 cm", "--turns", "50,51", "--diameter", "0.80 mm").out
    assert f"{math.degrees(math.atan(math.pi * 0.8e-3 * 202)):.1f}°" in counted


def test_one_sample_is_a_figure_without_an_interval(whorlpulse, skein):
    path, _, _ = skein
    said = whorlpulse("sample", path, "--gauge", "25 cm", "--turns", "70", "--json").json
    assert said["twist_tpm"] == {"value": 280.0, "low": None, "high": None}
    assert said["agreement"] is None
    assert any("no spread" in n for n in said["notes"])


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ((), "--gauge '25 cm' --turns"),
        (("--turns", "48,50"), "needs --gauge"),
        (("--gauge", "25 cm"), "needs --turns"),
        (("--angle", "22"), "needs --diameter"),
        (("--angle", "95", "--diameter", "1 mm"), "between 0 and 90"),
        (("--gauge", "25 cm", "--turns", "48;50"), "commas between"),
        (("--gauge", "25 cm", "--turns", "48,0"), "positive"),
        (("--gauge", "25", "--turns", "48"), "no unit"),
        (("--gauge", "25 cm", "--turns", "48", "--bobbin", "wide"), "--bobbin"),
        (("--gauge", "25 cm", "--turns", "48", "--margin", "5"), "--margin"),
        (("none.pulses", "--gauge", "25 cm", "--turns", "48"), "none.pulses"),
    ],
)
def test_misuse_is_one_line(whorlpulse, words, why):
    ran = whorlpulse("sample", *words)
    assert (ran.code, ran.out) == (2, "")
    assert why in ran.err
    assert len(ran.err.splitlines()) == 1


def test_the_documentation_has_a_section_for_each_explanation():
    page = (Path(__file__).parents[2] / "docs" / "findings.md").read_text(encoding="utf-8")
    for key in FINDINGS:
        assert f"### `{key}`" in page, key
