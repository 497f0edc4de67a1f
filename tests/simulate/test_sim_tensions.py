"""The three tensions: who drives, who follows, and turns that add up; wound turns by summing small steps."""

import math
from dataclasses import replace

import numpy as np
import pytest

from whorlpulse.simulate import Bobbin, Sensor, Yarn, scenario, simulate
from whorlpulse.simulate.bobbin import winding

PLAN_TPM = 5.2 / 0.0254
SENSED = (Sensor("w"), Sensor("f"), Sensor("b"))


def spun(name, seed=1, **changed):
    return simulate(replace(scenario(name), sensors=SENSED, roller=None, **changed), seed).truth


def made(path):
    return path.turns - path.turns[0]


@pytest.mark.parametrize(
    ("name", "sign", "give"), [("skein-on-plan", 1, 0.0), ("irish-skein", -1, 1.0), ("double-drive-skein", -1, 0.2)]
)
def test_wound_turns_are_the_difference_and_the_band_drives_the_right_shaft(name, sign, give):
    truth = spun(name)
    flyer, bobbin, driven = (made(p) for p in (truth.motion.flyer, truth.bobbin, truth.motion.driven))
    wound = sign * (flyer - bobbin)
    np.testing.assert_allclose(flyer + give * wound, driven, atol=1e-9)
    # the length of each small step of it, on a bobbin whose square grows by g for each metre
    b, length = truth.scenario.bobbin, truth.length.turns
    middle = 0.5 * (length[1:] + length[:-1])
    steps = np.diff(length) / (math.pi * np.sqrt(b.core_m**2 + b.growth_m * middle))
    np.testing.assert_allclose(wound, np.concatenate([[0.0], np.cumsum(steps)]), atol=1e-6)
    assert np.min(np.diff(wound)) >= -1e-9


def test_a_braked_bobbin_never_turns_back_and_neither_does_a_braked_flyer():
    assert np.min(np.diff(spun("skein-on-plan").bobbin.turns)) > -1e-9
    assert np.min(np.diff(spun("irish-skein").motion.flyer.turns)) > -1e-9


@pytest.mark.parametrize("gives", [0.0, 0.5, 1.0])
def test_in_double_drive_no_whorl_is_outrun_by_what_it_drives(gives):
    """By design the flyer runs between the two whorls' ratios; the band's creep takes less than a hundredth off."""
    truth = spun("double-drive-skein", flyer_gives=gives)
    case, phase = truth.scenario, truth.scenario.phases[1]
    own, bobbin = case.whorl_ratio(phase), case.whorl_ratio(phase) + case.excess_ratio(phase)
    at = np.arange(20.0, 160.0, 0.25)
    wheel, flyer, package = (f(at) for f in (truth.wheel_turns_at, truth.flyer_turns_at, truth.bobbin_turns_at))
    ratio, other = np.diff(flyer) / np.diff(wheel), np.diff(package) / np.diff(wheel)
    assert ratio.min() > 0.99 * own - 0.01
    assert other.max() < bobbin + 0.01
    # while nothing is wound on both turn as one, at the ratio that the slipping whorl leaves
    still = np.abs(other - ratio) < 1e-9
    assert still.mean() > 0.5
    assert np.median(ratio[still]) == pytest.approx(own + gives * (bobbin - own), rel=0.01)


def test_the_yarns_own_turns_are_the_flyers_whatever_drives():
    for name in ("irish-skein", "double-drive-skein"):
        truth = spun(name, yarn=Yarn(PLAN_TPM, scatter=0.0, winding_s=2.5))
        for draw in truth.along[:-1]:
            assert draw.twist_tpm == pytest.approx(PLAN_TPM, rel=1e-9)


def test_layers_fill_the_volume_that_they_take():
    bobbin = Bobbin(growth_m=1e-4, layer_m=0.002, layer_scatter=0.2)
    wound = winding(bobbin, 40.0, np.random.default_rng(3))
    # a metre takes g in d squared, however high the layers came out: the whole of them obeys the volume
    for k in (1, 4, len(wound.layers.length_m) - 1):
        inner, length = wound.layers.inner_m[k], wound.layers.length_m[k]
        assert inner**2 == pytest.approx(bobbin.core_m**2 + bobbin.growth_m * length, rel=1e-12)
        assert wound.package_m(length) == pytest.approx(inner, rel=1e-12)
    at = np.linspace(0.0, 40.0, 400_001)
    by_steps = np.cumsum(wound.per_metre(at)) * (at[1] - at[0])
    assert wound.wound(at)[-1] == pytest.approx(by_steps[-1], rel=1e-5)
    smooth = winding(replace(bobbin, layer_m=None), 40.0, np.random.default_rng(3))
    assert wound.wound(at)[-1] == pytest.approx(smooth.wound(at)[-1], rel=0.01)


def test_the_wheel_file_has_the_bobbin_as_the_spinner_measured_it():
    case = replace(scenario("filling-bobbin"), sensors=SENSED)
    full = []
    for seed in range(6):
        made_now = simulate(case.lasting(60.0), seed)
        (line,) = [x for x in made_now.wheel_toml.splitlines() if x.startswith("full_diameter")]
        read, _, u, _ = line.split('"')[1].replace(" +-", "").split()[:2] + line.split('"')[1].split("+- ")[1].split()
        assert float(u) == 0.5
        full.append((float(read) / 1000 - made_now.truth.package_m) / 0.0005)
    # six errors over their standard deviation: chi squared with 6 degrees of freedom is below 22.5 with p = 0.999
    assert 0.1 < np.square(full).sum() < 22.5


def test_a_bobbin_whorl_that_is_too_large_is_refused():
    with pytest.raises(ValueError, match="smaller"):
        simulate(replace(scenario("double-drive-skein"), bobbin=Bobbin(whorl_m=0.09)), 1)
