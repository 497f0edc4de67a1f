"""Two inertias and the band between them: one step of the treadled wheel.

    J_w dω_w/dt = drive − friction − R0·M       M = ΔF·r_f, the torque that the band brings to the flyer
    J_f dω_f/dt = M − drag                      ΔF from creep (`band.creep`), at most the grip (`largest_pull`)

Both new speeds are solved for at once, backward in the coupling, because that is stiff at low speed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from .band import Band, largest_pull
from .foot import Foot

_SLOWEST = 0.3  # rad/s: the creep law divides by the speed; below this the band acts as a plain damper


@dataclass(frozen=True)
class DriveWheel:
    """The drive wheel: where the band sits, its inertia, and its bearing's torque (constant + viscous)."""

    diameter_m: float = 0.51
    inertia_kgm2: float = 0.09
    bearing_nm: float = 0.03
    bearing_nms: float = 0.004


@dataclass(frozen=True)
class Flyer:
    """Flyer with bobbin: inertia, drag (constant + viscous), and what the brake adds while yarn winds on."""

    inertia_kgm2: float = 3.0e-4
    drag_nm: float = 0.009
    drag_nms: float = 8.0e-5
    winding_nm: float = 0.006


@dataclass(frozen=True)
class Drive:
    """All that stays the same while one whorl is treadled at one cadence; ratio is the no-slip ratio."""

    wheel: DriveWheel
    flyer: Flyer
    band: Band
    foot: Foot
    ratio: float
    cadence_per_min: float

    @property
    def arm_m(self) -> float:
        """Radius on which the band pulls the flyer, in metres."""
        return 0.5 * (self.wheel.diameter_m + self.band.thickness_m) / self.ratio

    @property
    def grip_nm(self) -> tuple[float, float]:
        """Largest torque on the flyer that the band holds, and what it brings while it slides, in N·m."""
        band = self.band
        return (
            self.arm_m * largest_pull(band.tension_n, band.grip_static, band.wrap_rad),
            self.arm_m * largest_pull(band.tension_n, band.grip_sliding, band.wrap_rad),
        )


@dataclass
class Spin:
    """What the mechanics carries from step to step, and what it noted down. Angles in rad, speeds in rad/s.

    wheel_speed, flyer_speed: one entry a step, the first before any step. sliding: entry numbers at which
    the band began and ceased to slide, by turns.
    """

    wheel_angle: float
    flyer_angle: float
    wheel_speed: list[float] = field(default_factory=lambda: [0.0])
    flyer_speed: list[float] = field(default_factory=lambda: [0.0])
    sliding: list[int] = field(default_factory=list)


Step = Callable[[float, float, float, float], tuple[float, float]]


def coupled(drive: Drive, spin: Spin, step_s: float, brake_nm: float) -> Step:
    """Return the function (ω_w, ω_f, driving torque, flyer's constant drag) -> new (ω_w, ω_f).

    It notes in spin.sliding when the band lets go and when it holds again. Everything is a local of the
    closure, since this function is most of a simulation's time.
    """
    r0, friction, viscous = drive.ratio, drive.wheel.bearing_nm + brake_nm, drive.wheel.bearing_nms
    flyer_viscous = drive.flyer.drag_nms
    a, b = step_s / drive.flyer.inertia_kgm2, step_s / drive.wheel.inertia_kgm2
    both = b * r0 + a / r0
    holds, slides = drive.grip_nm
    stiff = drive.arm_m * (drive.band.stiffness_n + drive.band.tension_n)
    sliding, noted, entries = len(spin.sliding) % 2 == 1, spin.sliding, spin.wheel_speed
    torque = 0.0

    def step(w: float, f: float, drive_nm: float, drag_nm: float) -> tuple[float, float]:
        nonlocal torque, sliding
        load_w, load_f = drive_nm - friction - viscous * w, drag_nm + flyer_viscous * f
        # creep s = ΔF/(EA + F0 + ΔF/2), so M = g (ω_w − ω_f/R0), both at the end of the step
        g = (stiff + 0.5 * torque) / (w if w > _SLOWEST else _SLOWEST)
        torque = g * (w + b * load_w - (f - a * load_f) / r0) / (1.0 + g * both)
        limit = slides if sliding else holds
        if -limit <= torque <= limit:
            if sliding:
                sliding = False
                noted.append(len(entries))
        else:
            if not sliding:
                sliding = True
                noted.append(len(entries) - 1)
            torque = slides if torque > 0.0 else -slides
        w += b * (load_w - r0 * torque)
        f += a * (torque - load_f)
        # friction stops a shaft, it does not turn it back
        return (w if w > 0.0 else 0.0), (f if f > 0.0 else 0.0)

    return step
