"""When each draw really began to wind on and was in: the moments that a log of pulses has to show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from whorlpulse.pulses import FloatArray

from .truth import Truth


@dataclass(frozen=True)
class TrueDrawTimes:
    """A draw that was taken up whole: seconds since the log's first line, metres, and turns of flyer and wheel.

    start_s: when the draw before was in (of the first: the first turn). waiting_turns: the flyer's before winding on.
    """

    start_s: float
    winding_s: float
    end_s: float
    length_m: float
    flyer_turns: float
    waiting_turns: float
    wheel_turns: float


def draw_times(truth: Truth) -> tuple[TrueDrawTimes, ...]:
    """Return the draws that were in before the log ended; none where yarn goes in without pause, or without yarn."""
    draws, flyer = truth.draws, truth.motion.flyer
    if draws is None or draws.continuous:
        return ()
    furthest = np.maximum.accumulate(flyer.turns) - flyer.turns[0]
    n = int(np.count_nonzero(draws.end < furthest[-1]))
    rising = np.append(True, np.diff(furthest) > 0)  # a standing flyer reaches a count when it gets there, not later

    def when(turns: FloatArray) -> FloatArray:
        moments: FloatArray = np.interp(turns, furthest[rising], flyer.t_s[rising]) - truth.offset_s
        return moments

    winding, end = when(draws.winding_from[:n]), when(draws.end[:n])
    start = np.concatenate([[truth.runs[0].start_s], end[:-1]])
    wheel = np.abs(truth.wheel_turns_at(end) - truth.wheel_turns_at(start))
    columns = (start, winding, end, draws.length_m[:n], draws.end[:n] - draws.start[:n])
    waiting = draws.winding_from[:n] - draws.start[:n]
    rows = np.stack([*columns, waiting, wheel], axis=1).tolist()
    return tuple(TrueDrawTimes(*row) for row in rows)
