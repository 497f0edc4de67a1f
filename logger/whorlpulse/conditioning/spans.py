"""Where counting must start anew: a span is a piece of the log in which no pulse can be missing unseen.

A jump of the sequence number, an overrun of the board, a restarted clock, a silence of the board and an
unbelievable tick each end a span; no turn count bridges them.
"""

from __future__ import annotations

import numpy as np

from whorlpulse.conditioning.unwrap import Clocked
from whorlpulse.pulses import OVERRUN, IntArray, Rows


def span_starts(rows: Rows, clocked: Clocked) -> IntArray:
    """Return the rows (s,), ascending and without row 0, with which a new span begins."""
    starts = np.concatenate(
        [
            rows.gap_row,
            np.flatnonzero(rows.channel == OVERRUN),
            clocked.restarts,
            clocked.silences,
            np.flatnonzero(~clocked.usable),
        ]
    )
    starts = np.unique(starts)
    return starts[(starts > 0) & (starts < len(rows))]
