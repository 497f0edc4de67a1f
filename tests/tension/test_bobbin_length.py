"""Length from the turns wound on: closed forms by hand, GTC, and simulated bobbins that fill in uneven layers."""

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.tension.spun import FLYER_AND_BOBBIN, case, spun

from whorlpulse.estimators.bobbin_length import (
    PACKAGE_DENSITY_KG_M3,
    PACKAGE_DENSITY_RELATIVE_U,
    NoBobbinLength,
    coil_room_m2,
    growth_by_turns,
    wound_length,
)
from whorlpulse.estimators.measured import Measured
from whorlpulse.rig import Bobbin, Length
from whorlpulse.simulate import Bobbin as TrueBobbin
from whorlpulse.simulate import LineFaults, Sensor, Yarn, scenario

CORE, FULL, WIDTH = Length(0.035, 0.0001), Length(0.055, 0.0005), Length(0.1, 0.001)


def test_both_diameters_coil_by_coil():
    # reference: 1000 coils, each laid round the package as it then is
    growth = growth_by_turns(Bobbin(core=CORE, full=FULL), 1000.0, None)
    middle = 0.035 + 0.020 * (np.arange(1000) + 0.5) / 1000
    assert wound_length(growth, Measured(1000.0, 0.0), both=True).value == pytest.approx(np.sum(math.pi * middle))
    assert growth.diameter_m(1000.0) == pytest.approx(0.055)


def test_yarn_on_the_bobbin_has_the_volume_of_the_package():
    # pi/4 (D^2 - d^2) w = L a, the volume of a hollow cylinder
    tex = 83.0
    growth = growth_by_turns(Bobbin(core=CORE, width=WIDTH), 800.0, tex)
    length = wound_length(growth, Measured(800.0, 0.0), both=False).value
    hollow = math.pi / 4 * (growth.diameter_m(800.0) ** 2 - 0.035**2) * 0.1
    assert hollow == pytest.approx(length * coil_room_m2(tex), rel=1e-12)
    assert coil_room_m2(tex) * PACKAGE_DENSITY_KG_M3 == pytest.approx(83e-6)  # tex is g/km


@pytest.mark.parametrize("both", [True, False])
def test_uncertainty_against_the_gum_tree_calculator(both):
    gtc = pytest.importorskip("GTC")
    n, core, full = gtc.ureal(500.0, 0.3), gtc.ureal(0.035, 0.0001), gtc.ureal(0.055, 0.0005)
    room = gtc.ureal(coil_room_m2(83.0), coil_room_m2(83.0) * PACKAGE_DENSITY_RELATIVE_U)
    width = gtc.ureal(0.1, 0.001)
    if both:
        bobbin, expected = Bobbin(CORE, FULL), math.pi * n * (core + full) / 2
    else:
        bobbin, expected = Bobbin(CORE, width=WIDTH), math.pi * (core * n + room / width * n**2)
    found = wound_length(growth_by_turns(bobbin, 500.0, 83.0), Measured(500.0, 0.3), both=both)
    assert found.value == pytest.approx(gtc.value(expected), rel=1e-12)
    # and 0.3 % for what the model leaves out
    assert found.u == pytest.approx(math.hypot(gtc.uncertainty(expected), 0.003 * found.value), rel=1e-6)


@pytest.mark.parametrize(
    ("bobbin", "tex", "lacks"),
    [
        (Bobbin(), 83.0, "no-bobbin-core"),
        (Bobbin(core=CORE), 83.0, "no-bobbin-growth"),
        (Bobbin(core=CORE, width=WIDTH), None, "no-bobbin-growth"),
    ],
)
def test_what_is_lacking_is_named(bobbin, tex, lacks):
    with pytest.raises(NoBobbinLength) as caught:
        growth_by_turns(bobbin, 100.0, tex)
    assert caught.value.reason == lacks


def test_a_filling_bobbin_of_known_diameters_is_within_two_per_cent():
    """Bar: within 2 % of truth with both diameters known: here exactly, so that what is left is the model's.

    A bulky yarn in some four layers whose heights scatter by 15 %; a layer begun at the end costs 0.3 % on average.
    """
    off = []
    for seed in range(60):
        one = spun(case("filling-bobbin", bobbin=replace(scenario("filling-bobbin").bobbin, gauge_m=(0.0, 0.0))), seed)
        off.append(one.said.length.value / one.true_length_m - 1.0)
    assert np.abs(off).max() < 0.01
    assert abs(np.mean(off)) < 0.005


def test_the_intervals_of_a_filling_bobbin_hold():
    """Bar: 95 % intervals hold in 93 to 97 of 100; the core measured to 0.1 mm and the package to 0.5 mm.

    Of 200 true 95 % intervals 183 to 197 hold in 99 of 100 tries (binomial).
    """
    off, held = [], 0
    for seed in range(200):
        one = spun(case("filling-bobbin"), seed)
        assert one.said.length_source == "bobbin"
        off.append(one.said.length.value / one.true_length_m - 1.0)
        held += one.said.length.low <= one.true_length_m <= one.said.length.high
    assert 183 <= held <= 197
    assert np.quantile(np.abs(off), 0.99) < 0.02


@pytest.mark.parametrize("name", ["irish-skein", "double-drive-skein"])
def test_other_tensions(name):
    off, held = [], 0
    for seed in range(30):
        one = spun(case(name, roller=None, sensors=FLYER_AND_BOBBIN), seed)
        assert one.said.length_source == "bobbin"
        off.append(one.said.length.value / one.true_length_m - 1.0)
        held += one.said.length.low <= one.true_length_m <= one.said.length.high
    # a package of 36 mm on a core of 35 measured to 0.5 mm: 0.7 % is its mean diameter's, four of them 2.8 %
    assert np.abs(off).max() < 0.028
    assert held >= 26  # of 30, fewer than 26 true 95 % intervals hold in one of sixty tries


def test_yarn_that_goes_in_all_the_time():
    for seed in range(6):
        one = spun(case("filling-bobbin", yarn=Yarn(2.5 / 0.0254, take_up="continuous")), seed)
        assert one.said.length.value == pytest.approx(one.true_length_m, rel=0.02)
        assert one.said.twist.value == pytest.approx(one.true_tpm, rel=0.02)


def test_growth_by_count_and_width_where_the_full_diameter_is_not_known():
    # a yarn that takes, on 100 mm, g = 4 a/(pi w) of 8e-6 m²/m: a = 6.3e-7 m², at 450 kg/m³ 283 tex
    room = 8.0e-6 * math.pi * 0.1 / 4
    tex = room * PACKAGE_DENSITY_KG_M3 * 1e6
    scene = case("irish-skein", roller=None, sensors=FLYER_AND_BOBBIN, bobbin=TrueBobbin(growth_m=8.0e-6))
    one = spun(scene, 2, count_tex=tex, bobbin=Bobbin(Length(0.035, 0.0001), width=Length(0.1, 0.0003)))
    assert one.said.length.value == pytest.approx(one.true_length_m, rel=0.01)
    assert one.said.length.low <= one.true_length_m <= one.said.length.high


def test_lost_lines_leave_out_their_yarn_and_their_turns():
    for seed in range(3):
        scene = case("filling-bobbin", line_faults=LineFaults(lost_blocks=(40, 40)))
        one = spun(scene, seed)
        assert one.said.length.value < one.true_length_m
        assert one.said.twist.value == pytest.approx(one.true_tpm, rel=0.03)


def test_missed_pulses_widen_the_interval():
    faulty = (Sensor("w"), Sensor("f", missed=0.01), Sensor("b", missed=0.01, doubled=0.005))
    held, wide, off = 0, [], []
    for seed in range(20):
        one = spun(case("filling-bobbin", sensors=faulty), seed)
        held += one.said.length.low <= one.true_length_m <= one.said.length.high
        wide.append(one.said.length.u / one.said.length.value)
        off.append(one.said.length.value / one.true_length_m - 1)
    assert held >= 17
    assert np.mean(wide) > 0.01  # twice what the diameters alone are worth
    assert np.abs(off).max() < 0.06
