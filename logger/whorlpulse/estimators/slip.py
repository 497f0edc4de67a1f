"""Slip: what the drive band loses of the ratio it would have without slip, and in which ways.

    s = 1 − r/R0        all of it: r the ratio made, R0 the reference (`slip_reference`)
    bursts              sudden losses of J_k flyer turns (`slip_bursts`)
    creep = 1 − k/R0    k = r + ΣJ/W: what would have been made without the bursts in the W wheel turns counted
    lines               parts of the creep that come and go with a period (`slip_periodic`); their mean stays in it

Each whorl of the log has its own. Uncertainties: r and R0 are independent (`measured.quotient`); a reference that
several whorls share counts as wholly correlated in the sum over them. Refuses where `ratio` refuses, and where
the wheel's lines stand for several turns (bursts can't be seen in counts; slip and creep are then given together).
Validated in tests/estimators/test_slip*.py against simulated bands.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import hypot, pi, sqrt

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, Stretch
from whorlpulse.estimators.creep import Tracked, tracked_loads
from whorlpulse.estimators.measured import Measured, quotient, welch_satterthwaite
from whorlpulse.estimators.ratio import RatioEstimate, WhorlRatio, estimate_ratio
from whorlpulse.estimators.slip_bursts import Window, find_windows, step_noise
from whorlpulse.estimators.slip_onset import burst_times
from whorlpulse.estimators.slip_periodic import Line, find_lines, wheel_order
from whorlpulse.estimators.slip_reference import Reference, known_whorls, own_best, reference_for, stretch_ratios
from whorlpulse.estimators.slip_series import LossSeries, loss_series, usual_advance
from whorlpulse.estimators.wheel_steps import Piece, pieces_at_speed
from whorlpulse.phase import shaft_turns, wheel_passages_in_flyer_turns
from whorlpulse.pulses import FLYER, ROLLER, WHEEL, BoolArray, Flag, FloatArray
from whorlpulse.rig import Rig

#: Above this share of missed and extra pulses of wheel and flyer, starts and stops are left out (see `slip_bursts`).
_CLEAN = 0.001
_WOUND_BEFORE_S, _JUST_BEFORE_TURNS = 0.6, 0.5


@dataclass(frozen=True)
class Burst:
    """A sudden loss of lost flyer turns (standard uncertainty lost_u) from start_s to end_s, seconds of the log.

    wheel_turn: wheel turns of the log's runs before it; wheel_angle_turns: the wheel's angle then, from target 0.
    acceleration: the wheel's in the half turn before, times the ratio (flyer turns/s²); harder: the share of the
    log's ordinary steps in which it accelerated less. winding: whether yarn was being wound on (None: no roller).
    counted: whether it lies in the turns of the ratio; bursts at a start or stop don't.
    """

    start_s: float
    end_s: float
    wheel_turn: float
    wheel_angle_turns: float
    lost: float
    lost_u: float
    acceleration: float
    harder: float
    winding: bool | None
    counted: bool
    whorl: int


@dataclass(frozen=True)
class WhorlSlip:
    """One whorl's slip, as shares of its reference. creep is None against a reference from this same log.

    ratio: made; kept: without its bursts. runs: by index. doubtful: sudden losses and gains that were not believed.
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

    reference: over all whorls, weighted by turns; its source is the weakest one's. unseen: bursts can't be seen.
    """

    ratio: RatioEstimate
    reference: Reference | None
    slip: Measured | None
    creep: Measured | None
    bursts: tuple[Burst, ...]
    whorls: tuple[WhorlSlip, ...]
    turn_s: float
    unseen: bool = False


@dataclass(frozen=True)
class _Counting:
    """What every whorl's part needs of the log. before[i]: wheel turns before stretch i."""

    log: Conditioned
    rig: Rig
    targets: int
    pieces: list[Piece]
    covered: list[Piece]
    before: list[float]
    trust_ramps: bool
    wound_s: FloatArray | None


def estimate_slip(log: Conditioned, rig: Rig, references: Sequence[Reference] = ()) -> SlipEstimate:
    """Estimate the slip of a conditioned log.

    references: given ones and those of another log, before the wheel file's; see `slip_reference`.
    """
    found = estimate_ratio(log, rig.tick_hz, hypot(*(rig.clock_tie_u_s.get(c, 0.0) for c in "wf")))
    if found.ratio is None:
        return SlipEstimate(found, None, None, None, (), (), 0.0)
    known = [*references, *known_whorls(rig)]
    turn_s = found.wheel_turns / sum(r.cadence_hz for r in found.runs) * len(found.runs) / found.wheel_turns
    if log.coarse & {WHEEL, FLYER}:
        whorls = [_counted_only(w, found, known) for w in found.whorls]
        return _summed(found, whorls, [], turn_s, unseen=True)
    counting = _counting(log, rig)
    whorls, bursts = [], []
    for number, whorl in enumerate(found.whorls):
        one, mine = _whorl(counting, whorl, number, found, known)
        whorls.append(one)
        bursts += mine
    return _summed(found, whorls, sorted(bursts, key=lambda b: b.start_s), turn_s)


def _counting(log: Conditioned, rig: Rig) -> _Counting:
    angles = log.angles[WHEEL]
    targets = len(angles.angle)
    covered = [
        Piece(s.run, *seen)
        for s, seen in zip(log.stretches, wheel_passages_in_flyer_turns(log, log.stretches), strict=True)
    ]
    before, total, run = [], 0.0, -1
    for s in log.stretches:
        # A run begins somewhere between two targets: half a gap before the first passage is the likeliest.
        total += 0.5 / targets if s.run != run else 0.0
        run = s.run
        before.append(total)
        total += _turns_of(s, log) if len(s.wheel) > 1 else 0.0
    flags = np.concatenate([log.trains[c].flag for c in (WHEEL, FLYER)])
    faulty = int(np.count_nonzero(flags & (Flag.FILLED | Flag.EXTRA))) / max(len(flags), 1)
    wound = [p.counted.t_s for p in log.rolls]
    wound_s = np.concatenate(wound) if len(log.trains[ROLLER]) else None
    return _Counting(log, rig, targets, pieces_at_speed(log, targets), covered, before, faulty < _CLEAN, wound_s)


def _turns_of(s: Stretch, log: Conditioned) -> float:
    whole, part = log.angles[WHEEL].turns(s.wheel.passage[[0, -1]])
    return float(whole[1] - whole[0] + part[1] - part[0])


def _whorl(
    counting: _Counting, whorl: WhorlRatio, number: int, found: RatioEstimate, known: Sequence[Reference]
) -> tuple[WhorlSlip, list[Burst]]:
    """One whorl's slip and its bursts."""
    angles = counting.log.angles[WHEEL]
    run_numbers = _runs_of(counting, found, whorl)
    pieces = [p for p in counting.pieces if p.run in run_numbers]
    usual = usual_advance(pieces, angles)
    series, stretches = _series(counting, pieces, usual)
    windows, doubtful = find_windows(series, counting.targets, trust_ramps=counting.trust_ramps)
    ordinary = _ordinary(series, windows)
    wheel_turns = sum(found.runs[i].wheel_turns for i in whorl.runs)
    noise = step_noise(series)
    kept = _kept(whorl.ratio, series, windows, wheel_turns, noise)
    reference = reference_for(kept, known)
    if reference is None:
        own = [stretch_ratios(s.turns, s.piece.y, o & s.at_speed) for s, o in zip(series, ordinary, strict=True)]
        reference = own_best(np.concatenate(own), noise / 10.0 if np.isfinite(noise) else 0.0, kept)
    ratio = float(usual.sum())
    lines = find_lines(series, ordinary, counting.targets, ratio, band_order(counting.rig))
    own_order = wheel_order(angles)
    slip = WhorlSlip(
        ratio=whorl.ratio,
        kept=kept,
        reference=reference,
        slip=_loss(whorl.ratio, reference.ratio),
        creep=None if reference.source == "this-capture" else _loss(kept, reference.ratio),
        wheel_turns=wheel_turns,
        runs=whorl.runs,
        lines=(*lines, *((own_order,) if own_order is not None else ())),
        tracked=tracked_loads(series, ordinary, counting.targets, ratio, counting.wound_s),
        doubtful=len(doubtful),
    )
    told = _burst_teller(counting, usual, series, stretches, ordinary, number)
    return slip, [told(w, noise) for w in windows]


def _runs_of(counting: _Counting, found: RatioEstimate, whorl: WhorlRatio) -> set[int]:
    """Numbers, as the pieces have them, of the whorl's runs: found by time, since short runs have no ratio."""
    starts = [found.runs[i].start_s for i in whorl.runs]
    return {p.run for p in counting.pieces if any(abs(float(p.t_s[0]) - start) < 1e-6 for start in starts)}


def _series(counting: _Counting, pieces: Sequence[Piece], usual: FloatArray) -> tuple[list[LossSeries], list[Stretch]]:
    """The loss series of the whorl's stretches, and these."""
    angles, series, stretches = counting.log.angles[WHEEL], [], []
    for whole, stretch, before in zip(counting.covered, counting.log.stretches, counting.before, strict=True):
        mine = [p for p in pieces if p.run == whole.run and len(whole.t_s) and _within(p, whole)]
        if not mine:
            continue
        first = stretch.wheel.passage[:1]
        turns, part = angles.turns(np.concatenate((first, whole.passage)))
        made = (turns - turns[0]) + (part - part[0])
        series.append(loss_series(whole, mine[0], before + made[1:], usual))
        stretches.append(stretch)
    return series, stretches


def _within(piece: Piece, whole: Piece) -> bool:
    return bool(whole.t_s[0] <= piece.t_s[0] and piece.t_s[-1] <= whole.t_s[-1])


def _ordinary(series: Sequence[LossSeries], windows: Sequence[Window]) -> list[BoolArray]:
    """For each series the steps that are no burst, nor next to one."""
    kept = [np.ones(len(s), bool) for s in series]
    for w in windows:
        kept[w.series][max(w.first - 1, 0) : w.last + 1] = False
    return kept


def _kept(
    ratio: Measured, series: Sequence[LossSeries], windows: Sequence[Window], wheel_turns: float, noise: float
) -> Measured:
    """The ratio with the bursts' losses put back; each brings two passages' noise."""
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


def _burst_teller(
    counting: _Counting,
    usual: FloatArray,
    series: Sequence[LossSeries],
    stretches: Sequence[Stretch],
    ordinary: Sequence[BoolArray],
    number: int,
) -> Callable[[Window, float], Burst]:
    """A function from a window to the burst with its times and what happened just before."""
    flyers = [(s.flyer.t_s, shaft_turns(s.flyer, counting.log.angles[FLYER]).since(0)) for s in stretches]
    ratio = float(usual.sum())
    speed = [s.step_turns / np.diff(s.piece.t_s) for s in series]
    middle = [0.5 * (s.piece.t_s[1:] + s.piece.t_s[:-1]) for s in series]
    gains = [ratio * np.gradient(v, m) for v, m in zip(speed, middle, strict=True)]
    usual_gain = np.sort(np.concatenate([g[o & s.at_speed] for g, o, s in zip(gains, ordinary, series, strict=True)]))

    def told(w: Window, noise: float) -> Burst:
        one = series[w.series]
        start, end = burst_times(one, w, usual, *flyers[w.series])
        turn = float(np.interp(start, one.piece.t_s, one.turns))
        whole, part = counting.log.angles[WHEEL].turns(one.piece.passage[[w.first]])
        from_first = turn - float(one.turns[w.first])
        back = max(round(_JUST_BEFORE_TURNS * counting.targets), 1)
        gain = float(gains[w.series][max(w.first - back, 0) : w.first + 1].max())
        wound = counting.wound_s
        return Burst(
            start_s=start,
            end_s=end,
            wheel_turn=turn,
            wheel_angle_turns=float((whole[0] + part[0] + from_first) % 1.0),
            lost=w.lost,
            lost_u=noise,
            acceleration=gain,
            harder=float(np.searchsorted(usual_gain, gain) / max(len(usual_gain), 1)),
            winding=None if wound is None else bool(((wound > start - _WOUND_BEFORE_S) & (wound < end)).any()),
            counted=bool(one.at_speed[w.first : w.last].all()),
            whorl=number,
        )

    return told
