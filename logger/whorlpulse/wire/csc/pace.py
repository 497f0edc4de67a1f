"""When a sensor that reports at a steady pace of its own sent each report; no input or output.

Its reports are evenly spaced on its clock, so on the host's they lie on a line, and each arrives late by a delay of
its own: the line that lies under all arrivals, by number of the report, gives the moments of sending (but for the
least delay), however late each came. Then an event waited for its report only, no longer for the air as well.
"""

from __future__ import annotations

import math
from typing import Final

from whorlpulse.wire.csc.hull import Point, slope_over

#: A line by fewer reports says little.
_ENOUGH: Final = 20
#: Steady means: nine of ten reports arrive within this part of the pace, and within so many seconds.
_STEADY_PART, _STEADY_S = 0.6, 0.25
#: So many reports in a row that are late by a whole pace or more: reports are missing before them.
_SURELY_MISSING: Final = 6


class Pace:
    """Numbers a link's reports and says when each was sent; one for each time that the link is made."""

    def __init__(self, keep: int = 2400) -> None:
        """keep: so many reports make the line, the last ones."""
        self._keep = keep
        self._arrivals: list[Point] = []
        self._number = -1
        self._late: list[int] = []  # of the last reports in a row, by how many whole paces they were late
        self._line: tuple[float, float, float] | None = None  # number, time there, seconds a report
        self._added = 0

    def report(self, arrival_s: float) -> int | None:
        """Take a report and return its number; None where it came so late that others may be missing before it.

        Such a report must not be given a wrong number: one too low would have been sent before its event.
        """
        self._number += 1
        if self._line is not None:
            at, time_s, pace_s = self._line
            late = (arrival_s - time_s) / pace_s + at - self._number
            if late < -0.5:  # none were missing after all
                self._number += math.floor(late + 0.5)
            if late >= 1:
                self._late.append(math.floor(late))
                if len(self._late) >= _SURELY_MISSING:
                    self._number += min(self._late)
                    self._late.clear()
                return None
            self._late.clear()
        self._arrivals.append((float(self._number), arrival_s))
        self._added += 1
        if self._added > len(self._arrivals) // 8:
            self._fit()
        return self._number

    @property
    def pace_s(self) -> float | None:
        """Seconds between two reports; None while no steady pace is seen."""
        return None if self._line is None else self._line[2]

    def sent_s(self, number: int) -> float | None:
        """Return when a report was sent, on the host's clock; None while no steady pace is seen."""
        if self._added > len(self._arrivals) // 50:
            self._fit()
        if self._line is None:
            return None
        at, time_s, pace_s = self._line
        return time_s + (number - at) * pace_s

    def _fit(self) -> None:
        self._added = 0
        del self._arrivals[: -self._keep]
        if len(self._arrivals) < _ENOUGH:
            return
        mean = math.fsum(n for n, _ in self._arrivals) / len(self._arrivals)
        pace_s = slope_over(self._arrivals, mean)
        late = sorted(a - pace_s * (n - mean) for n, a in self._arrivals)
        spread = late[int(0.9 * len(late))] - late[0]
        steady = pace_s > 0 and spread < min(_STEADY_PART * pace_s, _STEADY_S)
        self._line = (mean, late[0], pace_s) if steady else None
        if not steady and len(self._arrivals) >= 2 * _ENOUGH:  # perhaps the first ones were not
            del self._arrivals[: len(self._arrivals) // 2]
