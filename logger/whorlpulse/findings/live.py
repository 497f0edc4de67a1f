"""What a live view shows of one wheel at a moment: figures in SI units and keys of sentences, without prose."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from whorlpulse.findings.report import Note

if TYPE_CHECKING:
    from collections.abc import Mapping

    from whorlpulse.estimators.measured import Measured
    from whorlpulse.estimators.plan import YarnPlan
    from whorlpulse.estimators.twist import Verdict
    from whorlpulse.findings.cadence_report import CadenceReport
    from whorlpulse.findings.report import RatioReport, TwistReport
    from whorlpulse.findings.slip_report import SlipReport

State = Literal["waiting", "turning", "standing", "silent", "lost", "paused", "ended"]
Pace = Literal["slower", "faster", "with it"]


@dataclass(frozen=True)
class LiveBurst:
    """Flyer turns lost at once; seconds since the log's first row."""

    start_s: float
    lost: Measured


@dataclass(frozen=True)
class Totals:
    """The whole log up to to_s, as the commands say it. A quantity is None where its command has no answer.

    cadence_hz: in true time where the log has `sync` lines, as the cadence report has it. slip: share of
    reference_ratio, that is what stands for "without slip". notes: why a quantity is None.
    """

    to_s: float
    ratio: Measured | None
    cadence_hz: Measured | None
    twist_tpm: Measured | None
    length_m: Measured | None
    slip: Measured | None
    reference_ratio: Measured | None
    wheel_turns: float | None
    flyer_turns: float | None
    verdict: Verdict | None
    bursts: tuple[LiveBurst, ...]
    notes: tuple[Note, ...]


def totals_of(ratio: RatioReport, cadence: CadenceReport, twist: TwistReport, slip: SlipReport, to_s: float) -> Totals:
    """Return the few figures of four reports that a live view shows."""
    yarn, lost = twist.found if twist.cannot_say is None else None, slip.found
    why_not = [r.cannot_say for r in (ratio, cadence, twist, slip) if r.cannot_say is not None]
    return Totals(
        to_s=to_s,
        ratio=ratio.ratio,
        cadence_hz=cadence.mean_hz,
        twist_tpm=yarn.twist if yarn is not None else None,
        length_m=yarn.length if yarn is not None else None,
        slip=lost.slip if lost is not None else None,
        reference_ratio=lost.reference.ratio if lost is not None and lost.reference is not None else None,
        wheel_turns=ratio.wheel_turns,
        flyer_turns=ratio.flyer_turns,
        verdict=twist.verdict,
        bursts=tuple(LiveBurst(b.start_s, _lost(b.lost, b.lost_u)) for b in lost.bursts) if lost is not None else (),
        notes=tuple({n.key: n for n in why_not}.values()),
    )


def _lost(turns: float, u: float) -> Measured:
    from whorlpulse.estimators.measured import Measured

    return Measured(turns, u)


@dataclass(frozen=True)
class TurnShape:
    """The usual turn: angles and speeds (m,), relative to the mean, over so many turns; where the wheel is now."""

    angle_turns: tuple[float, ...]
    speed: tuple[float, ...]
    turns: int
    slowest_turns: float
    swing: Measured


@dataclass(frozen=True)
class StripPoint:
    """One point of the strip of the last minutes: seconds since the log's first row; None: not known then."""

    t_s: float
    cadence_per_min: float | None
    ratio: float | None
    twist_tpm: float | None


@dataclass(frozen=True)
class PlanNow:
    """The yarn of late against the plan. verdict: followed calmly. drafts in metres per wheel turn, None: not known."""

    plan: YarnPlan
    verdict: Verdict
    twist_tpm: float | None = None
    draft_m: float | None = None
    wanted_m: float | None = None


@dataclass(frozen=True)
class WheelNow:
    """One wheel at a moment.

    pulses: by letter. wheel_per_min, flyer_per_min: now, by the board's clock. ratio, twist_tpm, loss: of late (the
    window). length_m: counted so far. why: by quantity, the key of the sentence why it is not known yet.
    """

    id: str
    name: str
    state: State
    simulated: bool = False
    says: Note | None = None
    pulses: Mapping[str, int] = field(default_factory=dict)
    lost: int = 0
    damaged: int = 0
    wheel_per_min: float | None = None
    flyer_per_min: float | None = None
    ratio: Measured | None = None
    twist_tpm: Measured | None = None
    length_m: float | None = None
    loss: Measured | None = None
    why: Mapping[str, str] = field(default_factory=dict)
    pace_per_min: float | None = None
    pace: Pace | None = None
    plan: PlanNow | None = None
    profile: TurnShape | None = None
    angle_turns: float | None = None
    strip: tuple[StripPoint, ...] = ()
    bursts: tuple[LiveBurst, ...] = ()
    marks: tuple[tuple[float, str], ...] = ()
    totals: Totals | None = None
