"""Twist and twist factors against printed conversions and worked examples.

"Read" means that the figure was read in the source named; "from memory" that it was not. Tolerances are half of
the printed last digit unless the comment says otherwise.
"""

import math

import pytest

from whorlpulse import units
from whorlpulse.estimators import plan, yarn_geometry


def test_turns_per_inch_to_turns_per_metre():
    # printed 39.37 in a published tpi-tpm sheet, read; 1/0.0254 is exact
    assert units.twist("1 tpi") == pytest.approx(39.37, abs=0.005)
    assert units.tpm_from_tpi(1.0) == pytest.approx(1 / 0.0254, rel=1e-15)


def test_direct_count_of_turns():
    # ASTM D1423 / ISO 2061: twist is turns over gauge length; scope read: 250 turns in 0.25 m are 25.4 tpi
    assert units.tpi_from_tpm(250 / 0.25) == pytest.approx(25.4, rel=1e-12)
    assert units.twist("25.4 tpi") == pytest.approx(1000.0, rel=1e-12)


def test_untwist_retwist_halves_the_counter():
    # ASTM D1422: the counter goes through the twist twice, rule read: 400 on 10 inches are 20 tpi
    assert units.tpi_from_tpm(400 / 2 / units.length("10 in").m) == pytest.approx(20.0, rel=1e-12)


@pytest.mark.parametrize(
    ("kind", "tex_text", "turns_per_m"),
    [
        ("tm", "1 tex", 956.7344),  # cotton multiplier to tpm sqrt(tex); recomputed, printed as 957 (memory)
        ("alpha_m", "1 Nm", 1.0),  # the definition
        ("alpha_tex", "1 tex", 1.0),  # the definition
    ],
)
def test_one_of_each_twist_factor(kind, tex_text, turns_per_m):
    assert units.twist_factor(f"1 {kind}", units.count(tex_text)) == pytest.approx(turns_per_m, abs=1e-4)


def test_cotton_multiplier_in_other_systems():
    # Balasubramanian's conversion factors: 9.57 turns/cm sqrt(tex) per cotton multiplier, read
    assert units.twist_factor("1 tm", 1.0) / 100 == pytest.approx(9.57, abs=0.005)
    # alpha_m per cotton multiplier: 30.25, from memory
    tpm = units.twist_factor("1 tm", 20.0)
    assert units.twist_factor_from_tpm(tpm, 20.0, "alpha_m") == pytest.approx(30.25, abs=0.005)
    # multiplier 4 is K = 3826.94 and alpha_m = 121.018, recomputed from the definitions
    tpm = units.twist_factor("4 tm", 33.0)
    assert units.twist_factor_from_tpm(tpm, 33.0, "alpha_tex") == pytest.approx(3826.94, abs=0.01)
    assert units.twist_factor_from_tpm(tpm, 33.0, "alpha_m") == pytest.approx(121.018, abs=0.001)


def test_worsted_and_woollen_factors():
    # tpi / sqrt(worsted) and tpi / sqrt(run) in tpm sqrt(tex): recomputed from the counts' definitions (D2260)
    for unit, expected in (("worsted", 1171.756), ("run", 693.220)):
        factor = units.twist("1 tpi") * math.sqrt(units.count(f"1 {unit}"))
        assert factor == pytest.approx(expected, abs=1e-3)
    # the same twist as cotton multiplier 4 is 3.266 on the worsted count, recomputed
    worsted = units.twist_factor("4 tm", 30.0) / (units.twist("1 tpi") * math.sqrt(units.count("1 worsted") / 30))
    assert worsted == pytest.approx(3.266, abs=5e-4)


def test_metric_twist_factor_as_in_iso_2061():
    # alpha = t sqrt(Tt / 1000): 20 tex at 800 tpm is 113.137; wording from memory, arithmetic exact
    assert units.twist_factor_from_tpm(800, 20, "alpha_m") == pytest.approx(113.137, abs=1e-3)
    assert units.twist_factor("113.137 alpha_m", 20) == pytest.approx(800, abs=0.005)


@pytest.mark.parametrize(
    ("factor", "count", "tpi", "tolerance", "source"),
    [
        ("2.5 tm", "36 Ne", 15.0, 1e-9, "GATE textile engineering, 36 Ne cotton at 15 tpi; read"),
        ("3000 alpha_tex", "25 tex", 15.24, 1e-9, "GATE 2014/TF/19, factor 30 in turns/cm; inputs read"),
        ("3828 alpha_tex", "29.5 tex", 17.90, 0.005, "GATE 2006/TF/31, factor 38.28 in turns/cm; read"),
        ("4.2 tm", "40 Ne", 26.56, 0.005, "ring frame production example; read"),
        ("4.6 tm", "30 Ne", 25.195, 0.0005, "ring frame production example; read"),
        ("5.08 tm", "25 Ne", 25.4, 1e-9, "GATE 2000 Q5, 25s at 15 000 rpm and 15 m/min; question read"),
    ],
)
def test_worked_examples_of_twist_factors(factor, count, tpi, tolerance, source):
    assert units.tpi_from_tpm(units.twist_factor(factor, units.count(count))) == pytest.approx(tpi, abs=tolerance), (
        source
    )


def test_from_turns_per_cm_to_a_cotton_multiplier():
    # GATE 2006/TF/31: 29.5 tex, 38.28 turns/cm sqrt(tex); the multiplier of 30 Ne at the same twist is 3.27; read
    tpm = units.twist_factor("3828 alpha_tex", 29.5)
    assert tpm / 100 == pytest.approx(7.049, abs=0.002)  # the source rounds on the way
    assert units.twist_factor_from_tpm(tpm, units.count("30 Ne"), "tm") == pytest.approx(3.27, abs=0.005)


def test_contraction_factor_and_retraction():
    # C = L0 / Lt and R = (L0 - Lt) / L0 belong together by C = 1 / (1 - R); formula read: C 1.06, R 0.0566038
    assert yarn_geometry.drafted_length(1.0, 0.0566038) == pytest.approx(1.06, abs=1e-7)
    # 10 turns per twisted inch at R = 0.05 are 9.5 per drafted inch: exact
    assert 10 / yarn_geometry.drafted_length(1.0, 0.05) == pytest.approx(9.5, rel=1e-12)
    # 20 tex before twisting, contraction 5 %, is 21.0526 tex after (formula read, figure recomputed)
    assert yarn_geometry.drafted_length(20.0, 0.05) == pytest.approx(21.0526, abs=1e-4)


def test_contraction_in_a_lot_of_yarn():
    # GATE 2014/TF/37: five tonnes of 50 tex twisted yarn, factor 1.06, hold 106 000 km of untwisted yarn; read
    twisted_m = plan.length_of_mass_m(5000.0, 50.0)
    assert yarn_geometry.drafted_length(twisted_m, 1 - 1 / 1.06) == pytest.approx(106e6, rel=1e-12)


def test_contraction_seen_in_the_count():
    # Draper, Facts and Figures (1896): No. 28.5 from 4-hank roving at draft 7.26, "2 per cent"; read
    drafted_tex, twisted_tex = units.count(f"{7.26 * 4} Ne"), units.count("28.5 Ne")
    R = 1 - drafted_tex / twisted_tex
    assert pytest.approx(0.02, abs=0.005) == R  # printed as a whole per cent
    assert yarn_geometry.drafted_length(drafted_tex, R) == pytest.approx(twisted_tex, rel=1e-12)


def test_ideal_retraction_stays_near_a_mills_rule():
    # a mill's rule for cotton, contraction % = 2.67 TM - 4.93, read; no law, so 2 points are allowed
    for multiplier in (3.5, 4.0, 4.5):
        tpm = units.twist_factor(f"{multiplier} tm", 20.0)
        ideal_percent = 100 * yarn_geometry.retraction(
            yarn_geometry.helix_angle_deg(tpm, yarn_geometry.yarn_diameter_m(20.0))
        )
        assert ideal_percent == pytest.approx(2.67 * multiplier - 4.93, abs=2.0)
