"""Lines in the loss: known ones in made-up steps, and joints, untrue wheels and clean bands of the simulator."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.accuracy.trial import trial

from whorlpulse.cli.wheel_file import read_wheel
from whorlpulse.conditioning.targets import Angles
from whorlpulse.estimators.slip import SlipEstimate, band_order, estimate_slip
from whorlpulse.estimators.slip_periodic import Line, find_lines, wheel_order
from whorlpulse.estimators.slip_series import LossSeries
from whorlpulse.estimators.wheel_steps import Piece
from whorlpulse.rig import Length, Rig
from whorlpulse.simulate import Band, DriveWheel, PeriodicLoss, Scenario, Sensor, Stop, Treadling, scenario

FOUR = (0.0, 0.25, 0.5, 0.75)
UNKNOWN = (float("nan"), float("nan"))
RATIO = 8.4


def stepped(angles: tuple[float, ...], turns: int, order: float, share: float, noise: float, seed: int) -> LossSeries:
    """Steps of a wheel with targets at `angles` whose band loses share·cos(2π·order·θ) of the ratio, and noise."""
    targets = len(angles)
    at = (np.arange(turns)[:, None] + np.array(angles)[None, :]).ravel()
    whole = RATIO * share * np.sin(2 * np.pi * order * at) / (2 * np.pi * order)  # the integral, exactly
    jitter = noise * np.random.default_rng(seed).standard_normal(len(at))
    sudden = np.diff(whole + jitter)
    passage = np.arange(len(at))
    for j in range(targets):  # as `usual_advance` does
        sudden[passage[:-1] % targets == j] -= np.median(sudden[passage[:-1] % targets == j])
    piece = Piece(0, at, RATIO * at, passage)
    n = len(sudden)
    return LossSeries(piece, at, sudden, sudden, np.ones(n, bool), np.ones(n, bool))


def lines_of(one: LossSeries, targets: int, band: tuple[float, float] = UNKNOWN) -> tuple[Line, ...]:
    return find_lines([one], [np.ones(len(one), bool)], targets, RATIO, band)


@pytest.mark.parametrize("angles", [FOUR, (0.0, 0.3, 0.44, 0.78), (0.0, 0.5), (0.0, 1 / 3, 2 / 3)])
@pytest.mark.parametrize("order", [0.37, 0.763])
def test_a_known_line(angles, order):
    (line,) = lines_of(stepped(angles, 150, order, 0.004, 0.001, 1), len(angles))
    assert line.per_wheel_turn == pytest.approx(order, rel=0.002)
    assert line.per_wheel_turn == pytest.approx(order, abs=4.0 * line.u)
    assert line.share == pytest.approx(0.004, rel=0.10)
    assert line.share == pytest.approx(0.004, abs=4.0 * line.share_u)
    assert line.source == "unknown"
    assert any(a == pytest.approx(len(angles) - order, rel=0.01) for a in line.aliases)


@pytest.mark.parametrize(("targets", "order"), [(1, 0.763), (1, 1.31), (2, 1.31), (4, 2.3)])
def test_beyond_half_the_targets_the_bands_order_unfolds_it(targets, order):
    """Above N/2 a line shows folded; told the band's order, it is the band's at its own order and size."""
    angles = tuple(i / targets for i in range(targets))
    one = stepped(angles, 200, order, 0.01, 0.0005, 2)
    (line,) = lines_of(one, targets)
    assert line.source == "unknown"
    assert line.per_wheel_turn < 0.5 * targets
    assert any(a == pytest.approx(order, rel=0.01) for a in line.aliases)
    (line,) = lines_of(one, targets, (order * 1.004, 0.003 * order))
    assert line.source == "band"
    assert line.per_wheel_turn == pytest.approx(order, rel=0.002)
    assert line.share == pytest.approx(0.01, rel=0.10)


def test_the_intervals_of_a_line_hold():
    """Of 200 lines at random frequencies, 95 % intervals hold the frequency and the size (binomial: 90 to 99 %)."""
    rng = np.random.default_rng(3)
    inside_f = inside_a = 0
    for seed in range(200):
        order = float(rng.uniform(0.2, 1.7))
        order += 0.1 * (abs(order - 1.0) < 0.05)
        (line, *_) = lines_of(stepped(FOUR, 120, order, 0.004, 0.002, seed), 4)
        inside_f += abs(line.per_wheel_turn - order) < 1.96 * line.u
        inside_a += abs(line.share - 0.004) < 1.96 * line.share_u
    assert 180 <= inside_f <= 198
    assert 180 <= inside_a <= 200


def test_noise_has_no_lines():
    """Alarm of 1e-4 over all frequencies; white steps, timing noise and a random walk, 300 logs."""
    rng, found = np.random.default_rng(4), 0
    for seed in range(100):
        jittered = stepped(FOUR, 120, 0.5, 0.0, 0.01, seed)
        white = replace(jittered, sudden=0.01 * rng.standard_normal(len(jittered)))
        walk = replace(jittered, sudden=0.001 * np.cumsum(rng.standard_normal(len(jittered))))
        found += sum(len(lines_of(one, 4)) for one in (jittered, white, walk))
    assert found <= 2


def joint(seed: int, targets: tuple[float, ...], rng: np.random.Generator) -> tuple[SlipEstimate, float, float]:
    """A joint of 0.2 to 2 % in a band of any length, on any whorl, seen for 100 wheel turns."""
    loss, length = float(np.exp(rng.uniform(np.log(0.002), np.log(0.02)))), float(rng.uniform(1.7, 3.2))
    band, wheel = Band(length_m=length), DriveWheel()
    order = band.per_wheel_turn(wheel.diameter_m)
    case = Scenario(
        "joint",
        "",
        (Stop(1.5), Treadling(106.0, 60.0, int(rng.integers(3))), Stop(4.0)),
        band=replace(band, periodic=(PeriodicLoss(order, loss, loss),)),
        sensors=(Sensor("w", targets), Sensor("f")),
    )
    made = trial(case, seed)
    assert made.capture.wheel_toml is not None
    rig = read_wheel(made.capture.wheel_toml.encode(), "wheel.toml").onto(made.rig)
    return estimate_slip(made.conditioned, rig), order, loss


@pytest.mark.parametrize("targets", [FOUR, (0.0, 0.5)])
def test_a_joint_is_named_after_the_band(targets):
    """Bar: in 95 % of cases the right order within 2 %, named `band`."""
    rng, right, near = np.random.default_rng(5), 0, 0
    for seed in range(40):
        found, order, loss = joint(seed, targets, rng)
        band = [x for x in found.whorls[0].lines if x.source == "band"]
        right += bool(band) and abs(band[0].per_wheel_turn / order - 1.0) < 0.02
        near += bool(band) and abs(band[0].share / loss - 1.0) < 0.15
    assert right >= 38
    assert near >= 38


def test_the_bands_order_from_its_measures():
    """π(D + t)/L by hand, and its uncertainty by first order (GUM 5.1.2)."""
    rig = Rig(
        wheel_diameter=Length(0.510, 0.001), band_thickness=Length(0.0025, 0.0002), band_length=Length(2.11, 0.01)
    )
    order, u = band_order(rig)
    assert order == pytest.approx(0.76306457, abs=1e-8)
    by_d, by_t, by_l = (np.pi / 2.11 * x for x in (0.001, 0.0002, 0.5125 / 2.11 * 0.01))
    assert u == pytest.approx(np.sqrt(by_d**2 + by_t**2 + by_l**2), rel=1e-9)
    assert np.isnan(band_order(Rig())[0])


@pytest.mark.parametrize("targets", [4, 6, 8])
@pytest.mark.parametrize("share", [0.01, 0.02])
def test_a_wheel_out_of_true_shifts_its_targets_like_a_sine(targets, share):
    case = replace(
        scenario("steady"),
        sensors=(Sensor("w", tuple(i / targets for i in range(targets))), Sensor("f")),
        band=Band(periodic=(PeriodicLoss(1.0, share),)),
    )
    for seed in range(4):
        made = trial(case, seed)
        lines = estimate_slip(made.conditioned, made.rig).whorls[0].lines
        wheel = [x for x in lines if x.source == "wheel"]
        assert [x.per_wheel_turn for x in wheel] == [1.0]
        assert wheel[0].share == pytest.approx(share, rel=0.05)


def test_misplaced_targets_are_seldom_a_sine():
    """Targets off by 2° at random: three in four are told from a wheel out of true, and few targets never are it."""
    rng = np.random.default_rng(6)

    def untrue(targets: int) -> int:
        found = 0
        for _ in range(400):
            angle = np.arange(targets) / targets + 2.0 / 360.0 * rng.standard_normal(targets)
            found += wheel_order(Angles(angle - angle[0], np.full(targets, 1e-5), True)) is not None
        return found

    assert untrue(4) <= 100
    assert untrue(6) <= 20
    assert untrue(3) == untrue(2) == 0


@pytest.mark.parametrize("name", ["steady", "planned-bursts", "hard-uneven", "skein-on-plan", "three-whorls"])
@pytest.mark.parametrize("targets", [(0.0,), FOUR])
def test_bands_without_a_joint_have_no_line_worth_a_word(name, targets):
    """Lines of 0.1 % and more would be findings."""
    case = replace(scenario(name), sensors=(Sensor("w", targets), Sensor("f")), roller=None)
    for seed in range(6):
        made = trial(case, seed)
        whorls = estimate_slip(made.conditioned, made.rig).whorls
        assert [x for w in whorls for x in w.lines if x.source != "wheel" and x.share > 1e-3] == []
