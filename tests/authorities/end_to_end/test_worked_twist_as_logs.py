"""Worked examples of twist from gearing and speeds, as pulse logs: the command gives the printed answers.

Twist is spindle turns over delivered length; a gear train only says how many turns the spindle makes for one of the
roll. LIN: F. L. Lincoln, Instruction Book on Ring Spinning, Project Gutenberg #33424. HB: Howard & Bullough,
Illustrated Catalogue of Cotton Machinery, Project Gutenberg #38301. TCALC: textilecalculations.com, speed frames. A2: a
published roving frame assignment. GATE: Indian engineering examination, textile papers. The figures were read; of TCALC
2 and GATE the inputs were, and their answers were worked out from them.
"""

import math

import pytest
from shaft_logs import circumference, driven, log_of, passages_at, spun

#: HB's gear trains: over the change gear they are the spindle's turns for one turn of the front roll.
FLYER_FRAME = 130 * 40 * 40 * 55 / (48 * 42 * 30)
RING_FRAME = 84 * 96 * 8.143 / 21
TWISTER = 108 * 76 * 6.50 / 29
TWISTER_DOUBLE = 108 * 76 * 36 * 3.095 / (49 * 23)

#: Source -> (spindle rpm, roll rpm, the roll's circumference as a `roller` value, printed tpi, tolerance in tpi).
EXAMPLES = {
    "LIN 37": (86 * 120, 120, "3.1400 in", 27.38, 0.01),
    "TCALC 1": (1000, 30, circumference(28 / 25.4), 9.63, 0.006),
    # a back roller of 10 rpm, drafted six times: all rollers have one diameter
    "TCALC 2": (1000, 10 * 6, circumference(15 / 16), 5.66, 0.005),
    "A2": (907.5, 22 * 10.5, circumference(1.0), 1.25, 0.0005 * 1.25),
    # 15 m a minute
    "GATE 2000": (15000, 150, "10.0000 cm", 25.4, 0.0005 * 25.4),
    "HB p.127": (FLYER_FRAME / 45 * 200, 200, "3.92700 in", 1.07, 0.006),
    "HB p.165": (RING_FRAME / 40 * 120, 120, "3.14160 in", 24.88, 0.006),
    "HB p.206": (TWISTER / 30 * 100, 100, "4.71240 in", 13.01, 0.006),
    "HB p.207": (TWISTER_DOUBLE / 50 * 100, 100, "4.71240 in", 3.44, 0.006),
}


@pytest.mark.parametrize("source", EXAMPLES)
def test_twist_of_a_worked_example(source, answer):
    spindle, roll, roller, printed, tolerance = EXAMPLES[source]
    said = answer("twist", spun(spindle, roll, roller))
    assert said["twist_tpi"]["value"] == pytest.approx(printed, abs=tolerance)


#: HB's second question on each page: source -> (turns over gear, roll, circumference, wanted tpi, printed gear).
CHANGE_GEARS = {
    "HB p.128": (FLYER_FRAME, 200, "3.92700 in", 1.34, 36),
    "HB p.165": (RING_FRAME, 120, "3.14160 in", 18.10, 55),
    "HB p.206": (TWISTER, 100, "4.71240 in", 8.50, 46),
    "HB p.207": (TWISTER_DOUBLE, 100, "4.71240 in", 4.00, 43),
}


@pytest.mark.parametrize("source", CHANGE_GEARS)
def test_the_printed_change_gear_gives_the_wanted_twist(source, answer):
    turns, roll, roller, wanted, gear = CHANGE_GEARS[source]
    said = answer("twist", spun(turns / gear * roll, roll, roller))
    # a gear has whole teeth: nothing nearer than half of one can be asked for
    assert said["twist_tpi"]["value"] == pytest.approx(wanted, rel=0.5 / gear)
    # and the next gear on either side is further off, so the printed one was rightly chosen
    for other in (gear - 1, gear + 1):
        off = answer("twist", spun(turns / other * roll, roll, roller))["twist_tpi"]["value"]
        assert abs(off - wanted) > abs(said["twist_tpi"]["value"] - wanted)


def test_the_multiplier_of_a_ring_frames_yarn(answer):
    # GATE 2000: 15 m/min, spindle 15 000, 25s: 1000 turns a metre, 25.4 tpi, multiplier 5.08; back through the plan
    measured = answer("twist", spun(15000, 150, "10.0000 cm"))
    planned = answer("plan", '[yarn]\ncount = "25 Ne"\ntwist_factor = "5.08 tm"\n')
    assert planned["twist_tpm"] == pytest.approx(1000, rel=1e-6)
    assert measured["twist_tpm"]["value"] == pytest.approx(planned["twist_tpm"], rel=5e-4)


def test_a_bobbin_of_roving_filled_in_the_printed_time(answer):
    # HB p.129: 10 oz of 4 hank roving are 840 x 4 x 10 / 16 = 2100 yards; at 2.40 tpi and 1150 rpm they take 157.8 min
    spun_s = 157.8 * 60
    log = log_of({"f": passages_at(1150, spun_s, "f")}, {"targets": "f=1"})
    said = answer("twist", log, "--total", "2100 yd")
    # the minutes are printed to a tenth: half of it on 157.8
    assert said["twist_tpi"]["value"] == pytest.approx(2.40, rel=0.05 / 157.8 + 1e-4)
    # and the plan says how long the same bobbin takes on any wheel whose flyer runs at that speed
    plan = '[yarn]\ntwist = "2.40 tpi"\ncount = "4 Ne"\n'
    words = ("--ratio", "11.5", "--cadence", "100", "--mass", "10 oz")
    assert 60 * answer("plan", plan, *words)["whorls"][0]["hours"] == pytest.approx(157.8, abs=0.05)


#: HB p.112: a turn of the driving pulley makes 2.7027 (100/37) of the spindle; a line with a printed error is left out.
PULLEYS = ((400, 1081.08), (336, 908.10), (444, 1200.00), (560, 1513.51))


@pytest.mark.parametrize(("pulley_rpm", "spindle_rpm"), PULLEYS)
def test_ratio_of_pulley_and_spindle(pulley_rpm, spindle_rpm, answer):
    said = answer("ratio", driven(pulley_rpm, spindle_rpm / pulley_rpm, 250))["ratio"]
    # the printed speeds are a rounded 100/37: within 0.02 turns a minute
    assert said["value"] * pulley_rpm == pytest.approx(pulley_rpm * 100 / 37, abs=0.02)
    assert said["value"] == pytest.approx(2.7027, abs=1e-4)
    assert math.isclose(said["value"], spindle_rpm / pulley_rpm, rel_tol=2e-5)
