"""The answer to `calibrate`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    from whorlpulse.estimators.roller_circumference import RollerCircumference
    from whorlpulse.estimators.roller_pulls import PartedBy, Pull
    from whorlpulse.findings.report import Note
    from whorlpulse.rig import Length


class CalibrationReport(msgspec.Struct, frozen=True):
    """A roller's length per turn. pulls with their lengths and the result's `each_m`: one for each that counts.

    stated: what the log or an option said before. cannot_say: why there is no answer. limit: what limits it.
    """

    capture: str
    targets: int
    found: RollerCircumference | None = None
    pulls: tuple[Pull, ...] = ()
    lengths: tuple[Length, ...] = ()
    parted_by: PartedBy = "stops"
    stated: Length | None = None
    limit: Note | None = None
    cannot_say: Note | None = None
    notes: tuple[Note, ...] = ()
