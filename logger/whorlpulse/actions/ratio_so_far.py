"""The ratio so far, by the same engine that reads a finished log: conditioning, then the estimator."""

from __future__ import annotations

from whorlpulse.conditioning import condition
from whorlpulse.estimators.clock_steps import coarse_steps
from whorlpulse.estimators.ratio import estimate_ratio
from whorlpulse.logfile.header import Header
from whorlpulse.pulses import Rows
from whorlpulse.rig import Rig
from whorlpulse.views.figures import pair
from whorlpulse.views.recording_line import SoFar


def ratio_so_far(rows: Rows, header: Header, *, only_recent: bool = False) -> SoFar | None:
    """Return the ratio of the rows (n,) under the clock and targets of the header; None if it cannot be said yet."""
    rig = Rig(tick_hz=header.tick_hz, tick_bits=header.tick_bits, targets=header.targets)
    conditioned = condition(rows, rig)
    found = estimate_ratio(conditioned, rig.tick_hz).ratio
    if found is None or coarse_steps(conditioned) is not None:
        return None
    value, half = pair(found.value, found.half_width)
    return SoFar(value, half, only_recent) if half else None
