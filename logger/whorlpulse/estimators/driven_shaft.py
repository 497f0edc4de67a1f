"""The shaft that the drive band drives: what slip is to be sought in.

With F the flyer's turns, B the bobbin's, W = B − F those wound on, and w the wheel's, a band that doesn't slip makes

    F + g W = R w,    R = Rf + g (Rb − Rf)

g = 0: it drives the flyer (flyer-led). g = 1: it drives the bobbin (bobbin-led). Double drive lies in between: while
nothing is wound on, yarn holds both shafts together and the band slips on one whorl or both, and g is the share by
which the flyer is carried along. That slip is by design. It is all in F as W grows, and none of it in F + g W, so a
loss of the latter is a fault. g is the weighted median of (R − ΔF)/ΔW over wheel turns in which yarn was wound on, R
the median of those in which none was; single faults don't move it. Where the bobbin isn't sensed nothing can be taken
out. Validated on simulated double drives of every g, with and without bursts put in (tests/tension).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, Stretch
from whorlpulse.conditioning.counted import Counted
from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.conditioning.targets import Angles
from whorlpulse.estimators.band_ratio import RatioWithU, no_slip_ratio
from whorlpulse.phase import turns_at
from whorlpulse.pulses import BOBBIN, FLYER, FloatArray, PulseTrain
from whorlpulse.rig import Rig, Whorl

#: Wheel turns in which less, or more, than this was wound on (turns): held, and winding on.
_HELD, _WINDING = 0.02, 0.1
_FEWEST = 5
#: Without a wheel file a share so near to 1 is taken for a bobbin-led wheel's.
_ALL_OF_IT = 0.9


@dataclass(frozen=True)
class Driven:
    """give: the share g with its standard uncertainty give_u; log, rig: as if the driven shaft were the flyer.

    mixed: the whorls' ratios were put together from both whorls' diameters.
    """

    give: float
    give_u: float
    log: Conditioned
    rig: Rig
    mixed: bool


def driven_shaft(log: Conditioned, rig: Rig) -> Driven | None:
    """Return the log with the driven shaft in the flyer's place; None where that is the flyer itself, or not known."""
    if not log.bobbin_leads or not any(len(s.flyer) > 1 and len(s.bobbin) > 1 for s in log.stretches):
        return None
    give, give_u = 1.0, 0.0
    if rig.tension != "irish":
        found = share_given(log, rig)
        if found is None:
            return None
        give, give_u = found
        if rig.tension != "double-drive" and give > _ALL_OF_IT:
            give, give_u = 1.0, 0.0
    seen = _bobbin_for_flyer(log) if give == 1.0 else _between(log, give)
    targets = {**rig.targets, "f": rig.targets["b"] if give == 1.0 else 1}
    whorls = rig.whorls if rig.tension == "irish" else _driven_whorls(rig, give, give_u)
    return Driven(give, give_u, seen, replace(rig, targets=targets, whorls=whorls), whorls is not rig.whorls)


def share_given(log: Conditioned, rig: Rig) -> tuple[float, float] | None:
    """Return g, between 0 and 1, and its standard uncertainty; None with too few turns in which yarn was wound on."""
    flyer, wound = _turn_by_turn(log, rig.targets["w"])
    winding = wound > _WINDING
    if np.count_nonzero(winding) < _FEWEST:
        return None
    give = flyer[winding] / wound[winding]
    weight = wound[winding] ** 2
    order = np.argsort(give)
    middle = float(give[order][np.searchsorted(np.cumsum(weight[order]), 0.5 * weight.sum())])
    spread = 1.4826 * float(np.median(np.abs(give - middle)))
    return float(np.clip(middle, 0.0, 1.0)), spread * 1.2533 / sqrt(len(give))


def _turn_by_turn(log: Conditioned, targets: int) -> tuple[FloatArray, FloatArray]:
    """By how much the flyer fell behind in each whole wheel turn (n,), and the turns wound on in it (n,)."""
    behind, wound = [], []
    for s in log.stretches:
        t = s.wheel.t_s[:: max(targets, 1)]
        flyer = np.diff(turns_at(s.flyer, log.angles[FLYER], t))
        made = np.diff(turns_at(s.bobbin, log.angles[BOBBIN], t)) - flyer
        seen = np.isfinite(flyer) & np.isfinite(made)
        held = seen & (np.abs(made) < _HELD)
        if np.count_nonzero(held) < _FEWEST:
            continue
        behind.append((float(np.median(flyer[held])) - flyer)[seen])
        wound.append(made[seen])
    return (np.concatenate(behind), np.concatenate(wound)) if behind else (np.empty(0), np.empty(0))


def _driven_whorls(rig: Rig, give: float, give_u: float) -> tuple[Whorl, ...]:
    """The whorls with the driven shaft's ratio R; none where the bobbin's whorl would be needed and isn't known."""
    own = no_slip_ratio(rig, Whorl(diameter=rig.bobbin.whorl)) if rig.bobbin.whorl is not None else None
    if own is None:
        return rig.whorls if give < _HELD else ()
    return tuple(_driven_whorl(rig, w, own, give, give_u) for w in rig.whorls)


def _driven_whorl(rig: Rig, whorl: Whorl, own: RatioWithU, give: float, give_u: float) -> Whorl:
    flyer = no_slip_ratio(rig, whorl)
    if flyer is None:
        return whorl
    excess = own.value - flyer.value
    u = hypot((1.0 - give) * flyer.u, give * own.u, excess * give_u)
    return replace(whorl, ratio=flyer.value + give * excess, ratio_u=u)


def _bobbin_for_flyer(log: Conditioned) -> Conditioned:
    return replace(
        log,
        stretches=tuple(Stretch(s.run, s.bobbin, s.wheel) for s in log.stretches),
        trains={**log.trains, FLYER: replace(log.trains[BOBBIN], channel=FLYER)},
        angles={**log.angles, FLYER: log.angles[BOBBIN]},
        coarse=frozenset(FLYER if c == BOBBIN else c for c in log.coarse if c != FLYER),
    )


def _between(log: Conditioned, give: float) -> Conditioned:
    """The log with passages of a shaft of one target that makes (1 − g) F + g B turns."""
    stretches = tuple(Stretch(s.run, _passages(log, s, give), s.wheel) for s in log.stretches)
    return replace(
        log,
        stretches=tuple(s for s in stretches if len(s.flyer) or len(s.wheel)),
        trains={**log.trains, FLYER: _both(log.trains[FLYER], log.trains[BOBBIN])},
        angles={**log.angles, FLYER: Angles.even(1)},
    )


def _passages(log: Conditioned, s: Stretch, give: float) -> Counted:
    if len(s.flyer) < 2 or len(s.bobbin) < 2:
        return Counted.one_each(np.empty(0))
    t = np.union1d(s.flyer.t_s, s.bobbin.t_s)
    flyer, bobbin = (turns_at(s.of(c), log.angles[c], t) for c in (FLYER, BOBBIN))
    turns = (1.0 - give) * flyer + give * bobbin
    seen = np.isfinite(turns)
    t, turns = t[seen], np.maximum.accumulate(turns[seen])
    if len(t) < 2:
        return Counted.one_each(np.empty(0))
    whole = np.arange(np.ceil(turns[0]), np.floor(turns[-1]) + 1.0)
    at = monotone_cubic(turns, t, whole)
    return Counted.one_each(at[np.isfinite(at)])


def _both(flyer: PulseTrain, bobbin: PulseTrain) -> PulseTrain:
    """Both shafts' pulses as one train, for what was mended of either."""
    tick = np.concatenate([flyer.tick, bobbin.tick])
    order = np.argsort(tick, kind="stable")
    return PulseTrain(FLYER, tick[order], np.concatenate([flyer.flag, bobbin.flag])[order])
