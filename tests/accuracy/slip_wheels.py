"""A grid of simulated wheels, each with one known fault or none: what is put in, and which findings are right then.

A finding is right when what it claims is so in the simulation: that the band let go, that it creeps by a per cent or
more, that a rhythm was put in, and so on; not when it merely has the name of the fault.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from whorlpulse.rig import Length, Rig, Whorl
from whorlpulse.simulate import (
    Band,
    Board,
    DriveWheel,
    Flyer,
    Foot,
    PeriodicLoss,
    Roller,
    Scenario,
    Sensor,
    SlipBurst,
    Stop,
    Treadling,
    Yarn,
)

FAULTS: Final = (
    "none",
    "bursts put in",
    "slack band",
    "stretchy band",
    "bad joint",
    "wheel out of true",
    "reference off",
    "drag",
    "missing pulses",
    "doubled pulses",
    "sensor cuts out",
    "wrong wheel targets",
    "wrong flyer targets",
    "too short",
)
_FOUR: Final = (0.0, 0.25, 0.5, 0.75)
_LEAD_S, _TAIL_S = 1.5, 4.0
_TPM: Final = 205.0


@dataclass(frozen=True)
class Wheel:
    """One wheel of the grid. reference: how slip is told: "wheel-file", "slow log" or "none".

    stated_off: how far the file's ratio is from the true one (share), ratio_u its standard uncertainty (share).
    targets: as stated, None for as they are. band_known: whether the file has the band's length. cut_out_s: from and to
    when the flyer's sensor was dead.
    """

    fault: str
    case: Scenario
    seed: int
    reference: str
    stated_off: float
    ratio_u: float
    targets: dict[str, int] | None = None
    band_known: bool = True
    cut_out_s: tuple[tuple[float, float], ...] = ()

    def log(self, whole: bytes) -> bytes:
        """The simulated log without the flyer's pulses while its sensor was dead."""
        if not self.cut_out_s:
            return whole
        tick_hz, start = self.case.board.tick_hz, self.case.board.start_tick
        kept = []
        for line in whole.splitlines(keepends=True):
            t_s = (int(line[2:].split(b",")[0].split(b"*")[0]) - start) / tick_hz if line.startswith(b"f,") else -1.0
            if not any(a <= t_s < b for a, b in self.cut_out_s):
                kept.append(line)
        return b"".join(kept)

    def slow(self) -> Scenario:
        """The same wheel treadled slowly, without yarn, with the band freshly set."""
        (_, treadling, _) = self.case.phases
        assert isinstance(treadling, Treadling)
        return replace(
            self.case,
            phases=(Stop(_LEAD_S), replace(treadling, duration_s=60.0, cadence_per_min=38.0), Stop(_TAIL_S)),
            band=replace(self.case.band, tension_n=max(self.case.band.tension_n, 7.0), bursts=()),
            yarn=None,
            roller=None,
            sensors=tuple(s for s in self.case.sensors if s.channel != "y"),
        )

    def onto(self, rig: Rig) -> Rig:
        """The log's rig with what a wheel file says put over it."""
        (_, treadling, _) = self.case.phases
        assert isinstance(treadling, Treadling)
        rig = replace(rig, targets={**rig.targets, **(self.targets or {})})
        if self.band_known:
            rig = replace(
                rig,
                wheel_diameter=Length(self.case.wheel.diameter_m, 0.0005),
                band_thickness=Length(self.case.band.thickness_m, 0.0003),
                band_length=Length(self.case.band.length_m, 0.004),
            )
        if self.reference != "wheel-file":
            return rig
        ratio = self.case.no_slip_ratio(treadling) * (1.0 + self.stated_off)
        return replace(rig, whorls=(Whorl("used", ratio=ratio, ratio_u=self.ratio_u * ratio),))


def wheel(number: int) -> Wheel:
    """Return wheel `number` of the grid: the faults by turns, all else drawn at random but always the same."""
    rng = np.random.default_rng(40_000 + number)
    fault = FAULTS[number % len(FAULTS)]
    made = _ordinary(fault, number, rng)
    return _PUT_IN[fault](made, rng)


def _ordinary(fault: str, number: int, rng: np.random.Generator) -> Wheel:
    """A wheel without fault: whorl, cadence, targets, feet, sensors and reference drawn at random."""
    yarn = bool(rng.random() < 0.7)
    roller = yarn and bool(rng.random() < 0.6)
    sensors = (
        Sensor("w", _four(rng) if rng.random() < 0.6 else (0.0,), jitter_s=float(rng.uniform(5e-6, 60e-6))),
        Sensor("f", (0.0, 0.5) if rng.random() < 0.25 else (0.0,), jitter_s=float(rng.uniform(5e-6, 60e-6))),
    )
    foot = Foot(
        treadles=int(rng.integers(1, 3)),
        sharpness=float(rng.uniform(1.2, 2.0)),
        wander=float(rng.uniform(0.01, 0.05)),
    )
    case = Scenario(
        fault,
        "one wheel of a grid",
        (
            Stop(_LEAD_S),
            Treadling(float(rng.uniform(60.0, 150.0)), float(rng.uniform(48.0, 78.0)), int(rng.integers(0, 3))),
            Stop(_TAIL_S),
        ),
        wheel=DriveWheel(inertia_kgm2=float(rng.uniform(0.05, 0.12))),
        band=Band(length_m=float(rng.uniform(1.95, 2.6)), stiffness_n=float(rng.uniform(70.0, 130.0))),
        foot=foot,
        yarn=Yarn(_TPM) if yarn else None,
        roller=Roller() if roller else None,
        sensors=(*sensors, *((Sensor("y", _FOUR, width=0.05),) if roller else ())),
    )
    reference = str(rng.choice(["wheel-file", "wheel-file", "slow log", "none"]))
    ratio_u = float(rng.uniform(0.0005, 0.003))
    known = bool(rng.random() < 0.7)
    return Wheel(fault, case, number, reference, ratio_u * float(rng.standard_normal()), ratio_u, band_known=known)


def _four(rng: np.random.Generator) -> tuple[float, ...]:
    """Four targets: in half of the cases as even as on a printed disc, else set by hand, a few degrees off."""
    off_deg = 0.1 if rng.random() < 0.5 else 2.0
    return (0.0, *(np.array(_FOUR[1:]) + off_deg / 360.0 * rng.standard_normal(3)).tolist())


def _as_it_is(made: Wheel, _rng: np.random.Generator) -> Wheel:
    return made


def _bursts(made: Wheel, rng: np.random.Generator) -> Wheel:
    """Two to twelve bursts of 0.4 to 1.6 flyer turns."""
    (_, treadling, _) = made.case.phases
    n = int(rng.integers(2, 13))
    times = _LEAD_S + 6.0 + np.sort(rng.uniform(0.0, treadling.duration_s - 12.0, n))
    times = times[np.concatenate(([True], np.diff(times) > 1.5))]
    sizes = rng.uniform(0.4, 1.6, len(times))
    bursts = tuple(SlipBurst(float(t), float(x), 0.3 + 0.3 * float(x)) for t, x in zip(times, sizes, strict=True))
    return _with_band(made, replace(made.case.band, bursts=bursts))


def _slack(made: Wheel, rng: np.random.Generator) -> Wheel:
    """So slack that it lets go while yarn is wound on."""
    band = replace(made.case.band, tension_n=float(rng.uniform(1.0, 1.3)), grip_static=0.34, grip_sliding=0.22)
    case = replace(made.case, yarn=Yarn(_TPM), flyer=Flyer(winding_nm=float(rng.uniform(0.009, 0.012))))
    return _with_band(replace(made, case=case), band)


def _stretchy(made: Wheel, rng: np.random.Generator) -> Wheel:
    band = replace(made.case.band, stiffness_n=float(rng.uniform(10.0, 26.0)), tension_n=6.0)
    return _with_band(replace(made, case=replace(made.case, yarn=Yarn(_TPM))), band)


def _joint(made: Wheel, rng: np.random.Generator) -> Wheel:
    size = float(rng.uniform(0.003, 0.02))
    order = made.case.band.per_wheel_turn(made.case.wheel.diameter_m)
    return _with_band(made, replace(made.case.band, periodic=(PeriodicLoss(order, size, size),)))


def _untrue(made: Wheel, rng: np.random.Generator) -> Wheel:
    size = float(rng.uniform(0.006, 0.025))
    return _with_band(made, replace(made.case.band, periodic=(PeriodicLoss(1.0, size, 0.0),)))


def _reference(made: Wheel, rng: np.random.Generator) -> Wheel:
    off = float(rng.choice([-1.0, 1.0]) * rng.uniform(0.015, 0.06))
    return replace(made, reference="wheel-file", stated_off=off)


def _drag(made: Wheel, rng: np.random.Generator) -> Wheel:
    """A brake or bearing that takes three to six times the ordinary torque; the band holds."""
    many = float(rng.uniform(3.0, 6.0))
    usual = Flyer()
    flyer = (
        replace(usual, winding_nm=many * usual.winding_nm)
        if rng.random() < 0.5
        else replace(usual, drag_nms=4.0 * many * usual.drag_nms)
    )
    case = replace(made.case, yarn=Yarn(_TPM), flyer=flyer)
    return _with_band(replace(made, case=case), replace(made.case.band, tension_n=14.0))


def _sensors(made: Wheel, **faults: float) -> Wheel:
    sensors = tuple(replace(s, **faults) if s.channel == "f" else s for s in made.case.sensors)
    return replace(made, case=replace(made.case, sensors=sensors))


def _missing(made: Wheel, rng: np.random.Generator) -> Wheel:
    return _sensors(made, missed=float(rng.uniform(0.01, 0.06)))


def _doubled(made: Wheel, rng: np.random.Generator) -> Wheel:
    return _sensors(made, doubled=float(rng.uniform(0.01, 0.05)))


def _cut_out(made: Wheel, rng: np.random.Generator) -> Wheel:
    """The flyer's plug is loose: nothing from it for three to eight seconds, once to three times."""
    (_, treadling, _) = made.case.phases
    times = _LEAD_S + 8.0 + np.sort(rng.uniform(0.0, treadling.duration_s - 30.0, int(rng.integers(1, 4))))
    spans = tuple((float(t), float(t + rng.uniform(3.0, 8.0))) for t in times)
    # The board's numbers would tell of lines that were lost on the way; these were never sent.
    return replace(made, case=replace(made.case, board=Board(numbered=False, checksum=False)), cut_out_s=spans)


def _wheel_targets(made: Wheel, rng: np.random.Generator) -> Wheel:
    """Four targets, a little out of place as magnets are, and another number stated; or one, and two or more stated."""
    w = next(s for s in made.case.sensors if s.channel == "w")
    there = len(w.angles)
    if there > 1:
        angles = (0.0, *(np.array(_FOUR[1:]) + rng.uniform(-0.02, 0.02, 3)).tolist())
        made = _replaced(made, replace(w, angles=angles))
    stated = int(rng.choice([n for n in (1, 2, 3, 4, 5, 6) if n != there]))
    return replace(made, targets={"w": stated})


def _flyer_targets(made: Wheel, rng: np.random.Generator) -> Wheel:
    """Two targets on the flyer, not quite opposite, and one stated; or one, and two stated."""
    f = next(s for s in made.case.sensors if s.channel == "f")
    if len(f.angles) == 2:
        made = _replaced(made, replace(f, angles=(0.0, 0.5 + float(rng.uniform(0.01, 0.04)))))
    return replace(made, targets={"f": 3 - len(f.angles)})


def _short(made: Wheel, rng: np.random.Generator) -> Wheel:
    (lead, treadling, tail) = made.case.phases
    seconds = float(rng.uniform(2.5, 5.0)) * 60.0 / treadling.cadence_per_min
    return replace(made, case=replace(made.case, phases=(lead, replace(treadling, duration_s=seconds), tail)))


def _with_band(made: Wheel, band: Band) -> Wheel:
    return replace(made, case=replace(made.case, band=band))


def _replaced(made: Wheel, sensor: Sensor) -> Wheel:
    sensors = tuple(sensor if s.channel == sensor.channel else s for s in made.case.sensors)
    return replace(made, case=replace(made.case, sensors=sensors))


_PUT_IN: Final[dict[str, Callable[[Wheel, np.random.Generator], Wheel]]] = {
    "none": _as_it_is,
    "bursts put in": _bursts,
    "slack band": _slack,
    "stretchy band": _stretchy,
    "bad joint": _joint,
    "wheel out of true": _untrue,
    "reference off": _reference,
    "drag": _drag,
    "missing pulses": _missing,
    "doubled pulses": _doubled,
    "sensor cuts out": _cut_out,
    "wrong wheel targets": _wheel_targets,
    "wrong flyer targets": _flyer_targets,
    "too short": _short,
}
