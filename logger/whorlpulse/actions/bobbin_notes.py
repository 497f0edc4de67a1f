"""What stands beside a twist about the bobbin: what was wound on, whose turns were counted, what the band allows."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.band_ratio import RatioWithU, no_slip_ratio
from whorlpulse.estimators.measured import Measured
from whorlpulse.estimators.twist import TwistEstimate
from whorlpulse.estimators.winding import greatest_draw_in_m, lead_of, over_end_twist_tpm
from whorlpulse.findings.catalogue import sentence
from whorlpulse.findings.report import Note, note
from whorlpulse.pulses import BOBBIN, FLYER, WHEEL
from whorlpulse.rig import Rig, Whorl

_MM = 1e3


def bobbin_notes(found: TwistEstimate, log: Conditioned, rig: Rig, count_tex: float | None) -> list[Note]:
    """Return the notes on the bobbin; none where neither its pulses nor its measures are there."""
    draw_in = _greatest_draw_in(log, rig)
    return [
        *_wound(found, rig, count_tex),
        *_sensed(log, rig),
        *([] if draw_in is None else [draw_in]),
        *_over_end(found, rig),
    ]


def _wound(found: TwistEstimate, rig: Rig, count_tex: float | None) -> Iterator[Note]:
    """Say what was wound on, and what it rests on."""
    bobbin = rig.bobbin
    if found.length_source == "bobbin" and found.wound is not None and found.full is not None and bobbin.core:
        core = Measured(_MM * bobbin.core.m, _MM * bobbin.core.m_u)
        yield note("wound-on", turns=found.wound, core=core, full=found.full.times(_MM))
    if found.flyer_unseen and found.wound is not None:
        yield _unseen(found.wound, rig)
        if bobbin.full is None and (bobbin.width is None or count_tex is None):
            yield note("bobbin-thickness-guessed")


def _sensed(log: Conditioned, rig: Rig) -> Iterator[Note]:
    """Say where the pulses of flyer and bobbin tell another tension than the wheel file, or too little."""
    leads = "bobbin" if log.bobbin_leads else "flyer"
    if _both_sensed(log) and leads != lead_of(rig.tension):
        faster = sentence("faster" if log.bobbin_leads else "slower")
        yield note("lead-of-log", faster=faster, led=sentence(f"led-{leads}"), tension=rig.tension)
    if rig.tension == "irish" and len(log.trains[FLYER]) > 1 and not len(log.trains[BOBBIN]):
        yield note("flyer-unjudged")


def _over_end(found: TwistEstimate, rig: Rig) -> Iterator[Note]:
    """Say what drawing off over the end would do, from the full bobbin to the bare one."""
    bare = rig.bobbin.core
    if bare is None:
        return
    stated = rig.bobbin.full.m if rig.bobbin.full else bare.m
    full = found.full.value if found.full is not None else stated
    yield note("over-end", least=over_end_twist_tpm(max(full, bare.m)), most=over_end_twist_tpm(bare.m))


def _unseen(wound: Measured, rig: Rig) -> Note:
    lead = lead_of(rig.tension)
    sign = sentence("plus" if lead == "flyer" else "minus")
    return note("flyer-unseen", sign=sign, wound=wound, led=sentence(f"led-{lead}"))


def _both_sensed(log: Conditioned) -> bool:
    return all(len(log.trains[c]) > 1 for c in (FLYER, BOBBIN))


def _greatest_draw_in(log: Conditioned, rig: Rig) -> Note | None:
    """Return how much double drive can draw in, where both whorls' diameters and the bobbin's are known."""
    if rig.tension != "double-drive" or rig.bobbin.whorl is None or rig.bobbin.core is None:
        return None
    own, flyer = no_slip_ratio(rig, Whorl(diameter=rig.bobbin.whorl)), _flyer_whorl(log, rig)
    if own is None or flyer is None or own.value <= flyer.value:
        return None
    thick = rig.bobbin.full or rig.bobbin.core
    return note(
        "greatest-draw-in",
        bare=greatest_draw_in_m(own.value, flyer.value, rig.bobbin.core.m),
        full=greatest_draw_in_m(own.value, flyer.value, thick.m),
        mm=_MM * thick.m,
        excess=own.value - flyer.value,
    )


def _flyer_whorl(log: Conditioned, rig: Rig) -> RatioWithU | None:
    """Return the ratio of the flyer's whorl in use: the fastest that the flyer, but for slip, kept up with."""
    known = sorted((r for w in rig.whorls if (r := no_slip_ratio(rig, w)) is not None), key=lambda r: r.value)
    if len(known) < 2:
        return known[0] if known else None
    wheel, flyer = (
        sum(float(c.passage[-1] - c.passage[0]) for s in log.stretches if len(c := s.of(x)) > 1) / rig.targets[chr(x)]
        for x in (WHEEL, FLYER)
    )
    made = flyer / wheel if wheel > 0 else np.nan
    slower = [r for r in known if r.value * 0.95 <= made]
    return slower[-1] if slower else None
