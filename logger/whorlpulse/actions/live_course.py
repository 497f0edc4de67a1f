"""What a live view remembers of its windows: the strip, the bursts, the cues, and the turn's shape held still."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, Final

from whorlpulse.estimators.measured import Measured, quotient
from whorlpulse.findings.live import LiveBurst, PlanNow, StripPoint, Totals, TurnShape
from whorlpulse.findings.live_cues import Followed, followed

if TYPE_CHECKING:
    from collections.abc import Sequence

    from whorlpulse.actions.live_window import WindowBurst, WindowFigures
    from whorlpulse.estimators.plan import YarnPlan
    from whorlpulse.estimators.turn_profile import TurnProfile

#: The strip has a point in so many seconds of the log, and reaches back so far.
STRIP_EVERY_S: Final = 2.0
STRIP_S: Final = 180.0
#: Onsets nearer than this are one burst, seen in two windows.
_SAME_BURST_S: Final = 1.0
_MOST_BURSTS: Final = 30
#: The reference of the whole log is that of this whorl if the ratio is so near.
_SAME_WHORL: Final = 0.15


class Course:
    """Follows one wheel's windows. figures: the newest window's; None before the first."""

    def __init__(self, plan: YarnPlan | None, pace_per_min: float | None) -> None:
        self.figures: WindowFigures | None = None
        self.pace_per_min = pace_per_min
        self.loss: Measured | None = None
        self.shape: TurnShape | None = None
        self.strip: deque[StripPoint] = deque()
        self.bursts: tuple[LiveBurst, ...] = ()
        self.plan = PlanNow(plan, "undecided") if plan is not None else None
        self.why_no_twist: str | None = None
        self.version = 0
        self._reference: Measured | None = None
        self._followed = Followed()
        self._seen: Sequence[WindowBurst] = ()

    def take(self, figures: WindowFigures, per_min: float | None) -> None:
        """Take the newest window's figures, and the wheel's turns a minute now."""
        self.figures = figures
        self.version += 1
        self.loss = self._loss(figures)
        self._see_bursts(figures.bursts)
        if figures.profile is not None:
            self.shape = _shape(figures.profile, figures.zero_angle_turns)
        self.why_no_twist = figures.why_no_twist
        self._follow_plan(figures)
        self._add_point(figures, per_min if figures.refused is None else None)

    def settle(self, totals: Totals) -> None:
        """Take what the whole log says: its bursts stand, and what it loses nothing against."""
        self.version += 1
        self._reference = totals.reference_ratio
        later = [b for b in self.bursts if b.start_s > totals.to_s]
        self.bursts = (*totals.bursts, *later)[-_MOST_BURSTS:]

    def _loss(self, figures: WindowFigures) -> Measured | None:
        """The slip; against the log's least slipping stretch where nothing better is known."""
        own, ratio = self._reference, figures.ratio
        if not figures.own_reference or own is None or ratio is None:
            return figures.loss
        made = quotient(ratio, own)
        if abs(made.value - 1.0) > _SAME_WHORL:
            return figures.loss
        return Measured(1.0 - made.value, made.u, made.dof)

    def _see_bursts(self, found: Sequence[WindowBurst]) -> None:
        """Mark a burst when two windows in a row have it."""
        again = [b for b in found if any(_same(b.start_s, s.start_s) for s in self._seen)]
        self._seen = found
        kept = list(self.bursts)
        for burst in again:
            mark = LiveBurst(burst.start_s, burst.lost)
            at = next((i for i, k in enumerate(kept) if _same(k.start_s, burst.start_s)), None)
            if at is None:
                kept.append(mark)
            else:
                kept[at] = mark
        self.bursts = tuple(sorted(kept, key=lambda b: b.start_s))[-_MOST_BURSTS:]

    def _follow_plan(self, figures: WindowFigures) -> None:
        if self.plan is None:
            return
        self._followed = followed(self._followed, figures.verdict, figures.end_s)
        wanted = figures.ratio.value / self.plan.plan.twist_tpm if figures.ratio is not None else self.plan.wanted_m
        twist = figures.twist.twist.value if figures.twist is not None else None
        draft = figures.ratio.value / twist if figures.ratio is not None and twist else None
        self.plan = PlanNow(self.plan.plan, self._followed.shown, twist, draft, wanted)

    def _add_point(self, figures: WindowFigures, per_min: float | None) -> None:
        if self.strip and 0 <= figures.end_s - self.strip[-1].t_s < STRIP_EVERY_S:
            return
        ratio = figures.ratio.value if figures.ratio is not None else None
        twist = figures.twist.twist.value if figures.twist is not None else None
        self.strip.append(StripPoint(figures.end_s, per_min, ratio, twist))
        while self.strip[-1].t_s - self.strip[0].t_s > STRIP_S:
            self.strip.popleft()


def _same(a_s: float, b_s: float) -> bool:
    return abs(a_s - b_s) < _SAME_BURST_S


def _shape(profile: TurnProfile, zero_angle_turns: float) -> TurnShape:
    """The profile by the wheel's angle past the log's first passage, whichever target the window begins with."""
    slowest = profile.slow[0] if profile.slow else min(profile.points, key=lambda p: p.speed.value).wheel_angle_turns
    points = sorted(((p.wheel_angle_turns + zero_angle_turns) % 1.0, p.speed.value) for p in profile.points)
    return TurnShape(
        tuple(angle for angle, _ in points),
        tuple(speed for _, speed in points),
        profile.laps,
        (slowest + zero_angle_turns) % 1.0,
        profile.swing,
    )
