"""The bobbin while it fills: how thick it is where the window begins, and which of the window's take-ups are whole.

The wheel file's full diameter is that of the end, so it says nothing as long as the log goes on. What the bobbin has
grown to by now follows from the turns wound on before the window, by the counts of flyer and bobbin, the yarn's count
and the width over which it is spread: c' = c + k n, k = 2 a/w as in `bobbin_length`. Counts that are off by some turns
move it by as many coils' thickness only.
"""

from __future__ import annotations

from dataclasses import replace
from math import hypot, pi
from typing import TYPE_CHECKING, Final

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, condition
from whorlpulse.estimators.bobbin_length import growth_by_turns
from whorlpulse.estimators.twist import TwistEstimate
from whorlpulse.pulses import Rows
from whorlpulse.rig import Length, Rig

if TYPE_CHECKING:
    from collections.abc import Mapping

    from whorlpulse.actions.live_counts import WindowLog

#: So much of the standing after a take-up is kept with it: its end lies between two passages.
_AFTER_S: Final = 0.5


def unfilled(rig: Rig) -> Rig:
    """Return the rig without the full diameter: the log goes on, and the bobbin is not full yet."""
    return rig if rig.bobbin.full is None else replace(rig, bobbin=replace(rig.bobbin, full=None))


def as_window_begins(rig: Rig, log: WindowLog, count_tex: float | None) -> Rig:
    """Return the rig with the bobbin as thick as it is where the window begins, as far as that can be known."""
    rig = unfilled(rig)
    if log.whole or rig.bobbin.core is None or rig.bobbin.width is None or count_tex is None:
        return rig
    before, upto = (_wound(passages, rig) for passages in (log.before, log.upto))
    if before is None or upto is None:  # then how thick it is can only be guessed
        return replace(rig, bobbin=replace(rig.bobbin, width=None))
    return _grown(rig, before, upto - before, count_tex)


def _grown(rig: Rig, turns: float, further: float, count_tex: float) -> Rig:
    """The rig whose core has grown by `turns`; unsure as in the middle of the `further` ones, which share the cause."""
    growth = growth_by_turns(rig.bobbin, max(turns, 1.0), count_tex)
    core_u = hypot(growth.core_u_m, (turns + 0.5 * max(further, 0.0)) * growth.rise_u_m)
    return replace(rig, bobbin=replace(rig.bobbin, core=Length(growth.diameter_m(turns), core_u)))


def _wound(passages: Mapping[str, int], rig: Rig) -> float | None:
    """Turns wound on by the counts alone, None where not both shafts are sensed."""
    if not passages.get("f") or not passages.get("b"):
        return None
    return abs(passages["f"] / rig.targets["f"] - passages["b"] / rig.targets["b"])


def after_first_take_up(rig: Rig, found: TwistEstimate, count_tex: float | None) -> Rig:
    """Return the rig with the bobbin as thick as after the window's first take-up."""
    if rig.bobbin.core is None or rig.bobbin.width is None or count_tex is None:
        return rig
    turns = found.draws[0].to_m / (pi * rig.bobbin.core.m)
    return _grown(rig, turns, 0.0, count_tex)


def without_running_winding(rows: Rows, log: Conditioned, rig: Rig, found: TwistEstimate, over_s: float) -> Conditioned:
    """Leave out the rows after the last take-up that was over `over_s` before the end."""
    end_s = log.duration_s - over_s
    until_s = max((d.end_s for d in found.draws if d.end_s <= end_s), default=None)
    if until_s is None or until_s == found.draws[-1].end_s:
        return log
    n = int(np.searchsorted(log.clocked.tick, round((until_s + _AFTER_S) * log.tick_hz), side="right"))
    counted, gaps = rows.count_row < n, rows.gap_row < n
    kept = Rows(
        rows.tick[:n],
        rows.channel[:n],
        rows.count_row[counted],
        rows.count_value[counted],
        rows.gap_row[gaps],
        rows.gap_lines[gaps],
    )
    return condition(kept, rig)
