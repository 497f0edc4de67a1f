"""How fast a board's clock runs, from the log's `sync` lines: true seconds for each second that the board counts.

Model: host time = offset + rate * board time + delay, one offset for each piece of log between restarts. The rate is
the median of the slopes of all pairs of sync lines within a piece, each weighted by its time apart (Theil 1950 and Sen
1968, from memory), so that a few stamps that came late move nothing. Its uncertainty is that of a straight line (GUM
H.3) with the scatter of the stamps, which few stamps tell badly: a transport that delays by up to `_DELAY_S` counts as
`_PRIOR_DOF` degrees of freedom beside them. The host's own crystal is added.

Without (usable) sync lines the rate is 1, uncertain by a rectangle of ±0.5 %, as cheap resonators are specified.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt
from typing import Literal

import numpy as np

from whorlpulse.conditioning.unwrap import Clocked
from whorlpulse.estimators.measured import Measured, welch_satterthwaite
from whorlpulse.logfile.header import Sync
from whorlpulse.pulses import FloatArray, IntArray, Rows

#: How far a ceramic resonator may be off (common practice: 0.5 %, no source).
UNCORRECTED = 0.005
#: How far a computer's crystal may be off (common practice: 50 parts in a million, no source).
_HOST = 50e-6
#: A line reaches the host up to so much later than the shortest time (common practice: USB serial, no source).
_DELAY_S = 0.02
_PRIOR_DOF = 4
#: The median of slopes scatters by so much more than the least-squares slope for Gaussian stamps (0.91 efficiency).
_MEDIAN_LOSS = 1.05
#: A rate this far from 1 is no clock's error: another tick_hz, or stamps of another time.
_BELIEVABLE = 0.1
#: More stamps than this are thinned evenly: pairs grow as their square.
_MOST_STAMPS = 300

Source = Literal["sync", "none", "too-few", "unbelievable"]


@dataclass(frozen=True)
class BoardClock:
    """rate: true seconds a board second. source: `sync` if it was measured, else why not. stamps: sync lines used.

    span_s: board seconds from the first to the last of them.
    """

    rate: Measured
    source: Source
    stamps: int = 0
    span_s: float = 0.0


def uncorrected(source: Source = "none") -> BoardClock:
    """The clock of a board of which nothing more is known (rectangle, GUM 4.3.7)."""
    return BoardClock(Measured(1.0, UNCORRECTED / sqrt(3.0)), source)


def board_clock(rows: Rows, clocked: Clocked, syncs: Sequence[Sync], tick_hz: float, tick_bits: int) -> BoardClock:
    """Fit the clock's rate to the sync lines of a log; see the module's head.

    Refuses (source says why) where the sync lines tie the rate no better than knowing nothing does.
    """
    if not syncs or len(rows) == 0:
        return uncorrected()
    board_s, host_s, piece = _stamps(rows, clocked, syncs, tick_hz, tick_bits)
    board_s, host_s, piece = _thinned(board_s, host_s, piece)
    fitted = fit_rate(board_s, host_s, piece)
    if fitted is None or fitted.u > UNCORRECTED / sqrt(3.0):
        return uncorrected("too-few")
    if abs(fitted.value - 1.0) > _BELIEVABLE:
        return uncorrected("unbelievable")
    return BoardClock(fitted, "sync", len(syncs), float(np.ptp(board_s)))


def fit_rate(board_s: FloatArray, host_s: FloatArray, piece: IntArray) -> Measured | None:
    """Host seconds a board second, of stamps board_s (n,), host_s (n,); piece (n,): each has an offset.

    None when no two stamps of a piece differ in board time.
    """
    i, j = np.triu_indices(len(board_s), 1)
    apart = board_s[j] - board_s[i]
    pairs = (piece[i] == piece[j]) & (apart > 0)
    if not pairs.any():
        return None
    i, j, apart = i[pairs], j[pairs], apart[pairs]
    # The excess over 1 is fitted, on times from each piece's own start: unix seconds leave too few digits for slopes.
    excess = (host_s - host_s[0]) - (board_s - board_s[0])
    slope = _weighted_median((excess[j] - excess[i]) / apart, apart)
    left, spread, used = np.empty(len(board_s)), 0.0, 0
    for p in np.unique(piece):
        mine = piece == p
        rest = excess[mine] - slope * board_s[mine]
        left[mine] = rest - np.median(rest)
        spread += float(((board_s[mine] - board_s[mine].mean()) ** 2).sum())
        used += 1
    dof = max(len(board_s) - used - 1, 0)
    scatter = 1.4826 * float(np.median(np.abs(left)))
    sigma2 = (_PRIOR_DOF * _DELAY_S**2 / 12.0 + dof * scatter**2) / (_PRIOR_DOF + dof)
    line_u, line_dof, host_u = _MEDIAN_LOSS * sqrt(sigma2 / spread), float(_PRIOR_DOF + dof), _HOST / sqrt(3.0)
    dof_all = welch_satterthwaite([(line_u, line_dof), (host_u, np.inf)])
    return Measured(1.0 + slope, hypot(line_u, host_u), dof_all)


def _stamps(
    rows: Rows, clocked: Clocked, syncs: Sequence[Sync], tick_hz: float, tick_bits: int
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Board seconds (n,), host seconds (n,) and the piece between restarts (n,) of each sync line.

    A raw tick is placed by the last usable row before it, to within half of the clock's range.
    """
    usable = np.flatnonzero(clocked.usable)
    row = np.array([s.row for s in syncs], np.int64)
    before = np.maximum(np.searchsorted(usable, row) - 1, 0)
    anchor = usable[before]
    tick = np.array([s.tick for s in syncs], np.int64)
    since = tick - rows.tick[anchor]
    if tick_bits:
        half = 1 << (tick_bits - 1)
        since = (since + half) % (2 * half) - half
    board_s = (clocked.tick[anchor] + since) / tick_hz
    piece = np.searchsorted(clocked.restarts, anchor, side="right").astype(np.int64)
    return board_s, np.array([s.unix_s for s in syncs]), piece


def _thinned(board_s: FloatArray, host_s: FloatArray, piece: IntArray) -> tuple[FloatArray, FloatArray, IntArray]:
    if len(board_s) <= _MOST_STAMPS:
        return board_s, host_s, piece
    kept = np.unique(np.linspace(0, len(board_s) - 1, _MOST_STAMPS).round().astype(np.int64))
    return board_s[kept], host_s[kept], piece[kept]


def _weighted_median(values: FloatArray, weights: FloatArray) -> float:
    order = np.argsort(values)
    cumulative = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(cumulative, 0.5 * cumulative[-1])])
