"""The joint result of everything a log can be asked: the reports of all questions, and the courses to draw.

Beside each report's figures stand the courses along the log that only pictures show, and the uncertainty budget: which
part of each ± comes from what. Arrays are those of the estimators; nothing here is rounded or thinned.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import msgspec

if TYPE_CHECKING:
    from whorlpulse.findings.cadence_report import CadenceReport
    from whorlpulse.findings.comparison import CompareReport
    from whorlpulse.findings.health import HealthReport
    from whorlpulse.findings.report import Note, RatioReport, TwistReport
    from whorlpulse.findings.slip_report import SlipReport
    from whorlpulse.findings.yarn_reports import PlanReport
    from whorlpulse.pulses import FloatArray

Quantity = Literal["ratio", "slip", "cadence", "twist"]
Cause = Literal["timing", "log", "reference", "clock", "feet", "length", "turns"]


class LapCourse(msgspec.Struct, frozen=True):
    """Unbroken wheel turns of one run at speed, turn by turn.

    run, whorl: by index in the ratio report. wheel_turn (n,): turns of the log's runs up to the middle of each.
    t_s (n,): seconds of the log when it begins. ratio (n,): flyer turns for one wheel turn in it.
    """

    run: int
    whorl: int
    wheel_turn: FloatArray
    t_s: FloatArray
    ratio: FloatArray


class CadenceCourse(msgspec.Struct, frozen=True):
    """Whole turns of one run: when each begins, t_s (n,), and its turns per second in true time, cadence_hz (n,)."""

    t_s: FloatArray
    cadence_hz: FloatArray


class RhythmCourse(msgspec.Struct, frozen=True):
    """The loss folded on a periodic part's round: phase (m,) in rounds, share (m,) of the ratio, share_u (m,).

    share is freed of the averaging over a step. whorl, line: by index in the slip report. amplitude, at_phase: of the
    sine through it, amplitude·cos 2π(phase − at_phase).
    """

    whorl: int
    line: int
    phase: FloatArray
    share: FloatArray
    share_u: FloatArray
    amplitude: float
    at_phase: float


class Courses(msgspec.Struct, frozen=True):
    """What is drawn along the log; empty where there is nothing to draw."""

    laps: tuple[LapCourse, ...] = ()
    cadence: tuple[CadenceCourse, ...] = ()
    rhythms: tuple[RhythmCourse, ...] = ()


class BudgetLine(msgspec.Struct, frozen=True):
    """Where the ± of one quantity comes from. shares: causes with their part of the variance, the largest first.

    halve: what would halve it, a sentence of the catalogue.
    """

    quantity: Quantity
    shares: tuple[tuple[Cause, float], ...]
    halve: Note


class About(msgspec.Struct, frozen=True):
    """Of the log itself. entries: its metadata as (key, value), as written. simulated: it says so itself.

    files: (key of the sentence, name) of wheel and plan file. version: of this program. place: name of the folder that
    it lies in, empty where that says nothing. started: as the log has it, None without.
    """

    entries: tuple[tuple[str, str], ...]
    simulated: bool
    files: tuple[Note, ...]
    version: str
    place: str = ""
    started: str | None = None


class FullReport(msgspec.Struct, frozen=True):
    """Everything a log was asked. plan is None without a plan; each report says itself what it can't say."""

    capture: str
    about: About
    ratio: RatioReport
    slip: SlipReport
    cadence: CadenceReport
    twist: TwistReport
    health: HealthReport
    plan: PlanReport | None
    courses: Courses
    budget: tuple[BudgetLine, ...]

    @property
    def answers(self) -> bool:
        """Whether at least one question has an answer."""
        return any(r.cannot_say is None for r in (self.ratio, self.slip, self.cadence, self.twist))


class PairReport(msgspec.Struct, frozen=True):
    """Two logs, each with all of its own, and what changed from the first to the second."""

    first: FullReport
    second: FullReport
    change: CompareReport
