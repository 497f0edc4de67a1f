"""The result of `survey`: the bench card of a wheel, whorl by whorl, and what of it goes into the wheel file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    from whorlpulse.estimators.measured import Measured
    from whorlpulse.estimators.slip_reference import Source
    from whorlpulse.findings.report import Finding, Note
    from whorlpulse.rig import Length, Tension


class WheelFacts(msgspec.Struct, frozen=True):
    """What the wheel file says of the wheel itself; None where it says nothing."""

    name: str | None = None
    tension: Tension | None = None
    wheel_diameter: Length | None = None
    band_thickness: Length | None = None
    band_length: Length | None = None


class Use(msgspec.Struct, frozen=True):
    """A whorl at the spinner's draft: the twist it gives, and from which to which it is the nearest of all whorls.

    Turns per metre; from_tpm None for the lowest whorl, to_tpm None for the highest.
    """

    twist_tpm: float
    from_tpm: float | None
    to_tpm: float | None


class WhorlCard(msgspec.Struct, frozen=True):
    """One whorl. ratio: without bursts, as another such run would show it; made: of the turns made, bursts and all.

    no_slip: what it is held against and source where from, None where only this log is known; by_diameters: reckoned,
    not measured. slip: of made against no_slip. index: whorl of the wheel file, None where none fits. bursts: left out
    of ratio. turns_wanted: wheel turns that the wanted ± would take, None where it is reached. use: at a given draft.
    """

    ratio: Measured
    made: Measured
    wheel_turns: float
    runs: tuple[int, ...]
    name: str | None = None
    index: int | None = None
    diameter: Length | None = None
    no_slip: Measured | None = None
    source: Source | None = None
    by_diameters: bool = False
    slip: Measured | None = None
    bursts: int = 0
    turns_wanted: int | None = None
    use: Use | None = None


class SurveyReport(msgspec.Struct, frozen=True):
    """Answer to `survey`. whorls: ascending by ratio. draft_m: yarn for one treadle stroke, None when not given.

    share: the ± that is wanted, as a part of the ratio. unseen: lines stood for several turns, so bursts are not
    known. targets: of the wheel and the flyer. simulated: the log says so itself. doubtful: a sensor's finding
    makes the counts themselves doubtful.
    """

    capture: str
    wheel: WheelFacts
    share: float
    whorls: tuple[WhorlCard, ...] = ()
    draft_m: float | None = None
    wheel_turns: float = 0.0
    cadence_hz: float | None = None
    targets: tuple[int, int] = (1, 1)
    unseen: bool = False
    doubtful: bool = False
    simulated: bool = False
    findings: tuple[Finding, ...] = ()
    guide: tuple[Note, ...] = ()
    cannot_say: Note | None = None
    notes: tuple[Note, ...] = ()


class Saved(msgspec.Struct, frozen=True):
    """One whorl's new ratio for the wheel file. index: its place there, None for a new whorl; old: what stood there."""

    name: str
    ratio: Measured
    index: int | None = None
    old: float | None = None
    old_u: float | None = None
    bursts: int = 0
    from_reference: bool = False


class Saving(msgspec.Struct, frozen=True):
    """What goes into the wheel file, and for each whorl that does not, why."""

    saved: tuple[Saved, ...] = ()
    refused: tuple[Note, ...] = ()
