"""The rig of a live wheel's log, read as every command reads it; it can be sent to another process."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from .inputs import Given, rig_of

if TYPE_CHECKING:
    from whorlpulse.actions.recording import Recording
    from whorlpulse.findings.report import Note
    from whorlpulse.rig import Length, Rig


@dataclass(frozen=True)
class LiveRig:
    """Reads a rig under these options; what the user must put right is a ValueError of one sentence."""

    given: Given

    def __call__(self, recording: Recording, *, needs_length: bool) -> tuple[Rig, list[Note]]:
        """Return the rig of a log, and what is said of it."""
        from whorlpulse.sources.files import SourceError

        from .exits import InputError
        from .wheel_file import WheelError

        try:
            return rig_of(recording, self.given, needs_length=needs_length)
        except (InputError, SourceError, WheelError) as unusable:
            raise ValueError(str(unusable)) from None


def refuse_bad_options(given: Given) -> None:
    """Raise, as every command does, for options and a wheel file that cannot be used with any log."""
    from whorlpulse.actions.recording import read_recording

    rig_of(read_recording(lambda: [b""], ""), given, needs_length=True)


def metres(text: str) -> Length:
    """Return the length that a `length` line's value and unit state; ValueError for none."""
    from whorlpulse import units
    from whorlpulse.rig import Length

    return Length(*units.length(text, allow_zero=True))
