"""Results of `plan`, `ply` and `sample`: what a yarn shall be, what plying made of it, what the yarn itself shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    from whorlpulse.estimators.agreement import Agreement, Place
    from whorlpulse.estimators.direct_count import Counted
    from whorlpulse.estimators.hands import Hands, WhorlHands
    from whorlpulse.estimators.measured import Measured
    from whorlpulse.estimators.plan import Shape, WhorlPlan, YarnPlan
    from whorlpulse.estimators.plying import Plying
    from whorlpulse.estimators.yarn_geometry import Direction
    from whorlpulse.findings.report import Finding, Note
    from whorlpulse.rig import Length


class PlanReport(msgspec.Struct, frozen=True):
    """Answer to `plan`. shape: of the singles. mass_kg: what hours are for, None when not asked.

    hands: what each whorl asks of them, in the order of whorls; asked: what the spinner told of them. plied: the
    plan of plying, None for singles and where no ply twist is known; plying: its whorls.
    """

    capture: str
    plan: YarnPlan
    shape: Shape
    cadence_hz: float
    mass_kg: float | None
    whorls: tuple[WhorlPlan, ...]
    hands: tuple[WhorlHands, ...]
    asked: Hands
    plied: YarnPlan | None = None
    plying: tuple[WhorlPlan, ...] = ()
    notes: tuple[Note, ...] = ()


class Spun(msgspec.Struct, frozen=True):
    """One strand before plying, or the plied yarn: where it comes from, its twist, its length in metres if measured.

    roller: one turn of the roller that measured the length, if one did.
    """

    capture: str
    twist: Measured
    length: Measured | None = None
    roller: Length | None = None


class PlyReport(msgspec.Struct, frozen=True):
    """Answer to `ply`. found: None before there is a ply. target_tpm: the ply twist wanted; planned: from a plan.

    singles_place, place: singles and ply against the plan. needed_m: singles that the plied length took, each.
    plied_tex: the finished count. whorls: draft per treadle for plying to the target.
    """

    capture: str
    singles: tuple[Spun, ...] = ()
    ply: Spun | None = None
    plies: int = 2
    singles_direction: Direction = "Z"
    ply_direction: Direction = "S"
    contraction: float = 0.0
    found: Plying | None = None
    mean: Measured | None = None
    target_tpm: float | None = None
    planned: YarnPlan | None = None
    singles_place: Place | None = None
    place: Place | None = None
    needed_m: Measured | None = None
    plied_tex: float | None = None
    whorls: tuple[WhorlPlan, ...] = ()
    cannot_say: Note | None = None
    notes: tuple[Note, ...] = ()


class SampleReport(msgspec.Struct, frozen=True):
    """Answer to `sample`. twist: the yarn's, counted where it was, else by_angle (surface angle and diameter).

    gauge: length of a sample. shortening: measured retraction. log_twist: of the log that belongs to the yarn;
    agreement: yarn against log, by a relative margin. place: the yarn against a plan. findings: what could explain a
    disagreement.
    """

    capture: str
    twist: Measured | None = None
    gauge: Length | None = None
    counted: Counted | None = None
    angle_deg: Measured | None = None
    diameter_m: Measured | None = None
    by_angle: Measured | None = None
    shortening: Measured | None = None
    log_twist: Measured | None = None
    margin: float | None = None
    agreement: Agreement | None = None
    plan: YarnPlan | None = None
    place: Place | None = None
    findings: tuple[Finding, ...] = ()
    cannot_say: Note | None = None
    notes: tuple[Note, ...] = ()
