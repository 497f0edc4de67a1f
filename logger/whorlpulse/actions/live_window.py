"""The figures of late: the batch engine over the rows of the last seconds.

They depend on the window's rows and `#` lines only, so they are what the commands say of a log that holds just these
rows, however the bytes came in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from whorlpulse.actions.live_bobbin import after_first_take_up, as_window_begins, without_running_winding
from whorlpulse.actions.live_counts import WindowLog
from whorlpulse.actions.recording import too_coarse, wrong_tick_bits
from whorlpulse.conditioning.chain import Conditioned, Piece, condition
from whorlpulse.conditioning.counted import Counted
from whorlpulse.estimators.cadence import estimate_cadence
from whorlpulse.estimators.laps import treadled_parts
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.plan import YarnPlan
from whorlpulse.estimators.slip import estimate_slip
from whorlpulse.estimators.slip_reference import Reference
from whorlpulse.estimators.turn_profile import TurnProfile, turn_profile
from whorlpulse.estimators.twist import NoTwist, TwistEstimate, Verdict, against_plan, estimate_twist
from whorlpulse.findings.report import Note
from whorlpulse.pulses import ROLLER, WHEEL, Flag, PulseTrain
from whorlpulse.rig import Length, LengthMark, Rig

#: A take-up is over once the roller has stood for so long; one that still runs is left to the next window.
_TAKEN_UP_S: Final = 1.0
#: A twist less sure than this (half of its interval over its value) is not said, as in the twist report.
_TOO_UNSURE: Final = 0.5
#: A burst so near to the window's start cannot be told from its edge.
_EDGE_S: Final = 3.0


@dataclass(frozen=True)
class WindowBurst:
    """Turns that the flyer lost at once; start_s, end_s: seconds since the log's first row."""

    start_s: float
    end_s: float
    lost: Measured


@dataclass(frozen=True)
class WindowFigures:
    """What the window says; None: it cannot. end_s: seconds since the log's first row. why: keys of sentences.

    zero_angle_turns: where the window's target 0 is, past the log's first passage. loss: share of the reference
    that is lost; own_reference: the reference is the window's own best stretch. refused: why no figure can be made of
    these rows at all, as the commands would say it; then there is none.
    """

    end_s: float
    wheel_turns: float
    ratio: Measured | None
    cadence_hz: Measured | None
    profile: TurnProfile | None
    zero_angle_turns: float
    twist: TwistEstimate | None
    why_no_twist: str | None
    verdict: Verdict | None
    loss: Measured | None
    own_reference: bool
    bursts: tuple[WindowBurst, ...]
    refused: Note | None = None


def measure_window(
    log: WindowLog, rig: Rig, references: Sequence[Reference] = (), plan: YarnPlan | None = None
) -> WindowFigures:
    """Return what the batch estimators say of the window. rig: with the window's own `length` marks."""
    conditioned = condition(log.rows, rig)
    refused = wrong_tick_bits(log.rows, rig) or too_coarse(conditioned)
    if refused is not None:
        return _none(log, refused)
    slip = estimate_slip(conditioned, rig, references)
    profile = turn_profile(conditioned, treadled_parts(conditioned))
    twist, why_not = window_twist(conditioned, rig, log, plan.count_tex if plan is not None else None)
    judged = against_plan(twist, plan.twist_tpm, plan.tolerance) if plan is not None and twist is not None else None
    earliest_s = 0.0 if log.whole else _EDGE_S
    return WindowFigures(
        end_s=log.end_s,
        wheel_turns=slip.ratio.wheel_turns,
        ratio=slip.ratio.ratio,
        cadence_hz=estimate_cadence(conditioned).mean,
        profile=profile if isinstance(profile, TurnProfile) else None,
        zero_angle_turns=_zero_angle_turns(conditioned, log, rig.targets["w"]),
        twist=twist,
        why_no_twist=why_not,
        verdict=judged.verdict if judged is not None else None,
        loss=slip.slip,
        own_reference=slip.reference is not None and slip.reference.source == "this-capture",
        bursts=tuple(
            WindowBurst(log.start_s + b.start_s, log.start_s + b.end_s, Measured(b.lost, b.lost_u))
            for b in slip.bursts
            if b.start_s >= earliest_s
        ),
    )


def _none(log: WindowLog, refused: Note) -> WindowFigures:
    """What a window says whose rows can't be believed."""
    return WindowFigures(
        end_s=log.end_s,
        wheel_turns=0.0,
        ratio=None,
        cadence_hz=None,
        profile=None,
        zero_angle_turns=0.0,
        twist=None,
        why_no_twist="refused",
        verdict=None,
        loss=None,
        own_reference=False,
        bursts=(),
        refused=refused,
    )


def _zero_angle_turns(conditioned: Conditioned, log: WindowLog, targets: int) -> float:
    """The angle of the window's target 0 past the log's first passage, as far as the counts before it are right."""
    seen = next((s.wheel for s in conditioned.stretches if len(s.wheel)), None)
    if seen is None or conditioned.trains[WHEEL].count is not None:
        return 0.0
    train = conditioned.trains[WHEEL]
    reported_s = train.tick[train.flag & Flag.FILLED == 0] / conditioned.tick_hz
    before = log.passages + int(np.searchsorted(reported_s, float(seen.t_s[0]) - 0.5 / conditioned.tick_hz))
    return (before - int(seen.passage[0])) % targets / targets


def window_twist(
    conditioned: Conditioned, rig: Rig, log: WindowLog, count_tex: float | None
) -> tuple[TwistEstimate | None, str | None]:
    """Return the twist of the take-ups that lie wholly in the window, or the key of why there is none."""
    if rig.roller is not None and len(conditioned.trains[ROLLER]) >= 2:
        conditioned = without_running_take_up(conditioned, rig)
    rig = as_window_begins(rig, log, count_tex)
    try:
        found = estimate_twist(conditioned, rig, count_tex=count_tex)
        if found.length_source == "bobbin":
            conditioned = without_running_winding(log.rows, conditioned, rig, found, _TAKEN_UP_S)
            found = estimate_twist(conditioned, rig, count_tex=count_tex)
        if not log.whole and found.length_source in ("roller", "bobbin") and len(found.draws) > 1:
            from_first = _from_first_end(conditioned, rig, found)
            if found.length_source == "bobbin":
                from_first = after_first_take_up(from_first, found, count_tex)
            found = estimate_twist(conditioned, from_first, count_tex=count_tex)
    except NoTwist as reason:
        return None, reason.reason
    if not found.twist.half_width <= _TOO_UNSURE * found.twist.value:
        return None, "little-yarn"
    return found, None


def without_running_take_up(conditioned: Conditioned, rig: Rig) -> Conditioned:
    """Leave out the roller's pulses of a take-up that is not over at the window's end."""
    end_s = conditioned.duration_s - _TAKEN_UP_S
    try:
        draws = estimate_twist(conditioned, rig).draws
    except NoTwist:
        return conditioned
    until_s = max((d.end_s for d in draws if d.end_s <= end_s), default=0.0)
    train = conditioned.trains[ROLLER]
    kept = train.tick / conditioned.tick_hz <= until_s
    cut = PulseTrain(ROLLER, train.tick[kept], train.flag[kept], None if train.count is None else train.count[kept])
    return replace(
        conditioned,
        trains={**conditioned.trains, ROLLER: cut},
        rolls=tuple(p for p in (_until(r, until_s) for r in conditioned.rolls) if len(p.counted)),
    )


def _until(roll: Piece, until_s: float) -> Piece:
    n = int(np.searchsorted(roll.counted.t_s, until_s, side="right"))
    c = roll.counted
    return Piece(roll.span, Counted(c.t_s[:n], c.passage[:n], c.filled[:n]))


def _from_first_end(conditioned: Conditioned, rig: Rig, found: TwistEstimate) -> Rig:
    """The rig with the yarn counted from the end of the window's first take-up, whose beginning was not seen."""
    ticks = round(found.draws[0].end_s * conditioned.tick_hz)
    raw = conditioned.first_raw_tick + ticks
    row = int(np.searchsorted(conditioned.clocked.tick, ticks, side="right"))
    return replace(
        rig, length_marks=(LengthMark(raw % (1 << rig.tick_bits) if rig.tick_bits else raw, row, Length(0.0)),)
    )
