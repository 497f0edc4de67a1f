"""What a wheel of a live view is made of, and the rig under which its pulses are measured."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from whorlpulse.sources.events import Source

if TYPE_CHECKING:
    from whorlpulse.actions.live_counts import WindowLog
    from whorlpulse.actions.live_totals import RigOf
    from whorlpulse.estimators.plan import YarnPlan
    from whorlpulse.estimators.slip_reference import Reference
    from whorlpulse.logfile import Header
    from whorlpulse.rig import Length, Rig


@dataclass(frozen=True)
class WheelSetup:
    """One wheel. path: of its log; kept: whether the log stays when all is over.

    rig_of: a log's rig, as the commands read it. read_m: a `length` line's value and unit in metres; read_length: a
    typed length as value and unit for such a line; both raise ValueError for what is no length.
    """

    id: str
    name: str
    source: Source
    path: Path
    rig_of: RigOf
    read_m: Callable[[str], Length]
    read_length: Callable[[str], tuple[str, str]]
    kept: bool = True
    plan: YarnPlan | None = None
    references: Sequence[Reference] = field(default=())
    pace_per_min: float | None = None


class RigSoFar:
    """The rig under the header so far, read anew only when the header has changed."""

    def __init__(self, setup: WheelSetup) -> None:
        self._setup = setup
        self._header: Header | None = None
        self._rig: Rig | None = None
        self.why_none: str | None = None

    def under(self, header: Header) -> Rig | None:
        """Return the rig; None where a line of the header must be put right first (why_none)."""
        if header is self._header:
            return self._rig
        from whorlpulse.actions.recording import Recording
        from whorlpulse.logfile import Log
        from whorlpulse.pulses import Rows
        from whorlpulse.wire import Tally

        rows = Rows.empty()
        recording = Recording(self._setup.name, Log(header, rows, Tally(), rows.tick), list)
        self._header, self._rig, self.why_none = header, None, None
        try:
            self._rig, _ = self._setup.rig_of(recording, needs_length=False)
        except ValueError as unusable:
            self.why_none = str(unusable)
        return self._rig

    def of_window(self, header: Header, log: WindowLog) -> Rig | None:
        """Return the rig with the window's own `length` lines."""
        from whorlpulse.rig import Length, LengthMark

        rig = self.under(header)
        if rig is None:
            return None
        marks = []
        for line in log.header.lengths:
            try:
                length = self._setup.read_m(line.written) if line.value else Length(0.0)
            except ValueError:  # the totals' notes say so
                continue
            marks.append(LengthMark(line.tick, line.row, length))
        return replace(rig, length_marks=tuple(marks))
