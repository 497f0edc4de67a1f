"""Slip: what the drive band loses of the ratio it would have without slip, and in which ways.

    s = 1 − r/R0        all of it: r the ratio made, R0 the reference (`slip_reference`)
    bursts              sudden losses of J_k flyer turns (`slip_bursts`)
    creep = 1 − k/R0    k = r + ΣJ/W: what would have been made without anything sudden in the W wheel turns counted
    lines               parts of the creep that come and go with a period (`slip_periodic`); their mean stays in it

What is said of the flyer here is meant of the shaft that the band drives: the bobbin in a bobbin-led wheel, and in
double drive a mean of both in which the slip by design is not (`driven_shaft`). Each whorl of the log has its own.
Uncertainties: r and R0 are independent (`measured.quotient`); a reference that several whorls share counts as wholly
correlated in the sum over them. Refuses where `ratio` refuses, and where the wheel's lines stand for several turns
(bursts can't be seen in counts; slip and creep are then given together).
Validated in tests/estimators/test_slip*.py against simulated bands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot, isfinite, pi, sqrt

import numpy as np

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.creep import Tracked, tracked_loads
from whorlpulse.estimators.driven_shaft import driven_shaft
from whorlpulse.estimators.measured import Measured, quotient, welch_satterthwaite
from whorlpulse.estimators.ratio import RatioEstimate, WhorlRatio, estimate_ratio
from whorlpulse.estimators.slip_bursts import Window, find_windows, step_noise
from whorlpulse.estimators.slip_events import Burst, Events
from whorlpulse.estimators.slip_log import SlipLog, slip_log
from whorlpulse.estimators.slip_periodic import Line, find_lines, wheel_order
from whorlpulse.estimators.slip_reference import Reference, known_whorls, own_best, reference_for, stretch_ratios
from whorlpulse.estimators.slip_series import LossSeries, usual_advance
from whorlpulse.pulses import FLYER, WHEEL, BoolArray
from whorlpulse.rig import Rig

#: The push of the foot explains what comes once a turn up to so many times of what it should make (simulated bands:
#: up to 2.2 where both are seen well).
_BY_PUSH = 3.0


@dataclass(frozen=True)
class WhorlSlip:
    """One whorl's slip, as shares of its reference. creep is None against a reference from this same log.

    ratio: made; kept: without anything sudden. runs: by index. doubtful: sudden losses and gains not believed.
    """

    ratio: Measured
    kept: Measured
    reference: Reference
    slip: Measured
    creep: Measured | None
    wheel_turns: float
    runs: tuple[int, ...]
    lines: tuple[Line, ...]
    tracked: tuple[Tracked, ...]
    doubtful: int


@dataclass(frozen=True)
class SlipEstimate:
    """All that a log says of slip; slip None when too few whole turns were counted. ratio: as `estimate_ratio`.

    reference: over all whorls, weighted by turns; its source is the weakest one's. unseen: bursts can't be seen. give:
    the share g of the bobbin's turns in the driven shaft's, None where the flyer is driven.
    """

    ratio: RatioEstimate
    reference: Reference | None
    slip: Measured | None
    creep: Measured | None
    bursts: tuple[Burst, ...]
    whorls: tuple[WhorlSlip, ...]
    turn_s: float
    unseen: bool = False
    give: Measured | None = None


def estimate_slip(log: Conditioned, rig: Rig, references: Sequence[Reference] = ()) -> SlipEstimate:
    """Estimate the slip of a conditioned log.

    references: given ones and those of another log, before the wheel file's; see `slip_reference`.
    """
    driven = driven_shaft(log, rig)
    if driven is None:
        return _estimate(log, rig, references)
    found = _estimate(driven.log, driven.rig, references, by_diameters=driven.mixed)
    return replace(found, give=Measured(driven.give, driven.give_u))


def _estimate(
    log: Conditioned, rig: Rig, references: Sequence[Reference], *, by_diameters: bool = False
) -> SlipEstimate:
    found = estimate_ratio(log, rig.tick_hz, hypot(*(rig.clock_tie_u_s.get(c, 0.0) for c in "wf")))
    if found.ratio is None:
        return SlipEstimate(found, None, None, None, (), (), 0.0)
    known = [*references, *(replace(k, by_diameters=True) if by_diameters else k for k in known_whorls(rig))]
    turn_s = sum(r.wheel_turns / r.cadence_hz for r in found.runs) / found.wheel_turns
    if log.coarse & {WHEEL, FLYER}:
        whorls = [_counted_only(w, found, known) for w in found.whorls]
        return _summed(found, whorls, [], turn_s, unseen=True)
    own = slip_log(log)
    whorls, bursts = [], []
    for number, whorl in enumerate(found.whorls):
        one, mine = _whorl(own, rig, whorl, number, found, known)
        whorls.append(one)
        bursts += mine
    return _summed(found, whorls, sorted(bursts, key=lambda b: b.start_s), turn_s)


def _whorl(
    own: SlipLog, rig: Rig, whorl: WhorlRatio, number: int, found: RatioEstimate, known: Sequence[Reference]
) -> tuple[WhorlSlip, list[Burst]]:
    """One whorl's slip and its bursts."""
    angles = own.log.angles[WHEEL]
    starts = [found.runs[i].start_s for i in whorl.runs]
    runs = {p.run for p in own.pieces if any(abs(float(p.t_s[0]) - start) < 1e-6 for start in starts)}
    pieces = [p for p in own.pieces if p.run in runs]
    usual = usual_advance(pieces, angles)
    ratio = float(usual.sum())
    series, stretches = own.series(pieces, usual)
    windows, doubtful = find_windows(series, own.targets, trust_ramps=own.trust_ramps)
    events = Events(own, series, stretches, ratio)
    believed = events.believed(windows)
    sudden = [*windows, *doubtful]
    ordinary, noise = _ordinary(series, sudden), step_noise(series)
    wheel_turns = sum(found.runs[i].wheel_turns for i in whorl.runs)
    kept = _kept(whorl.ratio, series, sudden, wheel_turns, noise)
    reference = reference_for(kept, known) or _own_reference(series, ordinary, noise, kept)
    lines = find_lines(series, ordinary, own.targets, ratio, band_order(rig))
    sound = [o & ~own.mended_steps(s) for o, s in zip(ordinary, series, strict=True)]
    tracked = tracked_loads(series, sound, own.targets, ratio, own.wound_s)
    slip = WhorlSlip(
        ratio=whorl.ratio,
        kept=kept,
        reference=reference,
        slip=_loss(whorl.ratio, reference.ratio),
        creep=None if reference.source == "this-capture" else _loss(kept, reference.ratio),
        wheel_turns=wheel_turns,
        runs=whorl.runs,
        lines=(*lines, *_wheels_own(wheel_order(angles), tracked)),
        tracked=tracked,
        doubtful=len(sudden) - len(believed),
    )
    return slip, [events.burst(w, ordinary, noise, number) for w in believed]


def _wheels_own(line: Line | None, tracked: Sequence[Tracked]) -> tuple[Line, ...]:
    """The wheel's own order, unless the foot's push on a creeping band makes about as much of it."""
    by_push = max((t.once_a_turn for t in tracked if t.load == "acceleration"), default=0.0)
    return () if line is None or line.share < _BY_PUSH * by_push else (line,)


def _own_reference(
    series: Sequence[LossSeries], ordinary: Sequence[BoolArray], noise: float, kept: Measured
) -> Reference:
    """The reference from this log's own best stretches; noise: of one step, two passages' timing."""
    ratios = [stretch_ratios(s.turns, s.piece.y, o & s.at_speed) for s, o in zip(series, ordinary, strict=True)]
    return own_best(np.concatenate(ratios), noise if isfinite(noise) else 0.0, kept)


def _ordinary(series: Sequence[LossSeries], windows: Sequence[Window]) -> list[BoolArray]:
    """For each series the steps that are no burst, nor next to one."""
    kept = [np.ones(len(s), bool) for s in series]
    for w in windows:
        kept[w.series][max(w.first - 1, 0) : w.last + 1] = False
    return kept


def _kept(
    ratio: Measured, series: Sequence[LossSeries], windows: Sequence[Window], wheel_turns: float, noise: float
) -> Measured:
    """The ratio with sudden losses and gains taken back, believed or not: each brings two passages' noise."""
    lost = 0.0
    for w in windows:
        one = series[w.series]
        inside = slice(w.first, w.last)
        lost += float(one.sudden[inside][one.at_speed[inside]].sum())
    u = sqrt(len(windows)) * noise / wheel_turns if windows else 0.0
    return Measured(ratio.value + lost / wheel_turns, hypot(ratio.u, u), ratio.dof)


def _loss(ratio: Measured, reference: Measured) -> Measured:
    """1 − ratio/reference."""
    made = quotient(ratio, reference)
    return Measured(1.0 - made.value, made.u, made.dof)


def _counted_only(whorl: WhorlRatio, found: RatioEstimate, known: Sequence[Reference]) -> WhorlSlip:
    """A whorl's slip where lines stand for several turns: bursts and creep can't be told apart."""
    reference = reference_for(whorl.ratio, known) or Reference(whorl.ratio, "this-capture")
    turns = sum(found.runs[i].wheel_turns for i in whorl.runs)
    slip = _loss(whorl.ratio, reference.ratio)
    return WhorlSlip(whorl.ratio, whorl.ratio, reference, slip, None, turns, whorl.runs, (), (), 0)


def _summed(
    found: RatioEstimate, whorls: Sequence[WhorlSlip], bursts: Sequence[Burst], turn_s: float, *, unseen: bool = False
) -> SlipEstimate:
    """Over all whorls: losses over what was due."""
    due = sum(w.reference.ratio.value * w.wheel_turns for w in whorls)
    turns = sum(w.wheel_turns for w in whorls)
    order = ("this-capture", "wheel-file", "other-capture", "given")
    weakest = min((w.reference for w in whorls), key=lambda r: order.index(r.source))
    shared_u = sum(w.reference.ratio.u * w.wheel_turns for w in whorls)
    dof = min(w.reference.ratio.dof for w in whorls)
    reference = replace(weakest, ratio=Measured(due / turns, shared_u / turns, dof))

    def share(parts: Sequence[Measured]) -> Measured:
        lost = sum(p.value * w.reference.ratio.value * w.wheel_turns for p, w in zip(parts, whorls, strict=True))
        own = hypot(*(w.ratio.u * w.wheel_turns for w in whorls)) / due
        by_reference = shared_u * (1.0 - lost / due) / due
        return Measured(
            lost / due,
            hypot(own, by_reference),
            welch_satterthwaite([(own, min(w.ratio.dof for w in whorls)), (by_reference, dof)]),
        )

    creeps = [w.creep for w in whorls if w.creep is not None]
    return SlipEstimate(
        ratio=found,
        reference=reference,
        slip=share([w.slip for w in whorls]),
        creep=share(creeps) if len(creeps) == len(whorls) else None,
        bursts=tuple(bursts),
        whorls=tuple(whorls),
        turn_s=turn_s,
        unseen=unseen,
    )


def band_order(rig: Rig) -> tuple[float, float]:
    """How often the band goes round in one wheel turn, π(D + t)/L, with its standard uncertainty; NaN if not known.

    The band's middle runs t/2 above the groove; without a thickness it is taken as none.
    """
    if rig.wheel_diameter is None or rig.band_length is None:
        return float("nan"), float("nan")
    thick = rig.band_thickness.m if rig.band_thickness is not None else 0.0
    thick_u = rig.band_thickness.m_u if rig.band_thickness is not None else 0.005
    across = rig.wheel_diameter.m + thick
    order = pi * across / rig.band_length.m
    return order, order * hypot(
        hypot(rig.wheel_diameter.m_u, thick_u) / across, rig.band_length.m_u / rig.band_length.m
    )
