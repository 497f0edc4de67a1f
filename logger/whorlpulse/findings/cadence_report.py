"""The result of `cadence`: what was estimated, by which clock, and what is said beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    from whorlpulse.estimators.board_clock import BoardClock
    from whorlpulse.estimators.cadence import CadenceEstimate
    from whorlpulse.estimators.laps import Stall
    from whorlpulse.estimators.measured import Measured
    from whorlpulse.estimators.turn_profile import TurnProfile
    from whorlpulse.findings.report import Note


class CadenceReport(msgspec.Struct, frozen=True):
    """Answer to `cadence`. found is by the board's clock; mean_hz, run_hz and trend are in true time.

    run_hz: turns per second of found.runs, each. trend_hz_per_s: None where the log is too short. treadles: 1 or 2 as
    told, None when not. stops: (start_s, end_s) between runs. cannot_say: why there is no answer.
    """

    capture: str
    found: CadenceEstimate | None = None
    clock: BoardClock | None = None
    mean_hz: Measured | None = None
    run_hz: tuple[float, ...] = ()
    trend_hz_per_s: Measured | None = None
    profile: TurnProfile | None = None
    stalls: tuple[Stall, ...] = ()
    stops: tuple[tuple[float, float], ...] = ()
    treadles: int | None = None
    limit: Note | None = None
    cannot_say: Note | None = None
    notes: tuple[Note, ...] = ()
