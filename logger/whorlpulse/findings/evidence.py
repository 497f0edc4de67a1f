"""What the rules look at: a log, what conditioning made of it, and figures that several rules need.

The shafts are looked at as they were reported (bounces and pulses of a standing wheel left out, nothing repaired),
because a repair made with a wrong number of targets would hide the evidence of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, Stretch
from whorlpulse.conditioning.interpolate import monotone_cubic
from whorlpulse.estimators.target_count import Rhythm, repeating_gaps, repeating_times, treadle_rhythm
from whorlpulse.logfile import Log
from whorlpulse.pulses import FLYER, WHEEL, Flag, FloatArray
from whorlpulse.rig import Rig

_ORDERS = 8  # multiples of the wheel's turn at which feet may leave something in the flyer's intervals


@dataclass(frozen=True)
class Framing:
    """How many of the pulse lines at the log's head were looked at, have sequence numbers, have checksums."""

    lines: int
    numbered: int
    checked: int


@dataclass(frozen=True)
class Facts:
    """A log, its conditioned shafts, the rig that was used, and what its lines carry.

    whole: all stretches of the log, where `conditioned` holds but those that are looked at.
    """

    log: Log
    conditioned: Conditioned
    rig: Rig
    framing: Framing
    whole: Conditioned | None = None

    def reported_s(self, letter: int) -> FloatArray:
        """Times (n,) of a shaft's reported pulses without bounces and idle ones."""
        train = self.conditioned.trains[letter]
        kept = train.flag & (Flag.BOUNCE | Flag.IDLE | Flag.FILLED) == 0
        times: FloatArray = train.tick[kept] / self.conditioned.tick_hz
        return times

    def targets(self, letter: int) -> int:
        """Targets per turn that were used for a shaft."""
        return self.rig.targets.get(chr(letter), 1)

    @cached_property
    def longest(self) -> Stretch | None:
        """The stretch with most turning of both shafts in it, None without any."""
        both = [s for s in self.conditioned.stretches if len(s.flyer) and len(s.wheel)]
        return max(both, key=lambda s: min(s.flyer.t_s[-1], s.wheel.t_s[-1]) - s.start_s, default=None)

    @cached_property
    def together(self) -> tuple[FloatArray, FloatArray]:
        """Reported pulses of flyer and wheel in the longest stretch: times (n,) and (m,)."""
        if self.longest is None or self.conditioned.coarse & {FLYER, WHEEL}:
            return np.empty(0), np.empty(0)
        flyer, wheel = (_within(self.reported_s(c), self.longest) for c in (FLYER, WHEEL))
        return flyer, wheel

    @cached_property
    def turns(self) -> tuple[float, float] | None:
        """Turns of wheel and flyer in the longest stretch as reported, or None when too few to compare."""
        if self.longest is None:
            return None
        counts = []
        for letter, counted in ((WHEEL, self.longest.wheel), (FLYER, self.longest.flyer)):
            if letter in self.conditioned.coarse:
                made = float(counted.passage[-1] - counted.passage[0])
            else:
                made = float(len(self.together[0 if letter == FLYER else 1]) - 1)
            counts.append(made / self.targets(letter))
        return (counts[0], counts[1]) if min(counts) >= 3.0 else None

    @cached_property
    def ratio(self) -> float | None:
        """Flyer turns per wheel turn as reported, or None when too few to tell."""
        return None if self.turns is None else self.turns[1] / self.turns[0]

    @cached_property
    def stretch_ratios(self) -> list[float]:
        """The ratio of every stretch of the log with three wheel turns or more, as counted."""
        return [
            flyer / wheel
            for stretch in (self.whole or self.conditioned).stretches
            if len(stretch.wheel) and len(stretch.flyer)
            for wheel, flyer in [[self._turns_of(stretch, c) for c in (WHEEL, FLYER)]]
            if wheel >= 3.0
        ]

    def _turns_of(self, stretch: Stretch, letter: int) -> float:
        passage = stretch.of(letter).passage
        return float(passage[-1] - passage[0]) / self.targets(letter)

    @cached_property
    def exchanged_ratio(self) -> float | None:
        """The ratio if channel f's pulses were the wheel's and channel w's the flyer's."""
        if self.ratio is None:
            return None
        return (self.targets(WHEEL) / self.targets(FLYER)) ** 2 / self.ratio

    @cached_property
    def rhythm(self) -> Rhythm | None:
        """The treadle's rhythm in the flyer's speed on the scale of wheel pulses."""
        return treadle_rhythm(*self.together)

    @cached_property
    def exchanged_rhythm(self) -> Rhythm | None:
        """The rhythm if the channels were exchanged: in w's speed on the scale of f's pulses."""
        return treadle_rhythm(*reversed(self.together))

    @cached_property
    def wheel_gaps(self) -> int | None:
        """After how many wheel pulses their gaps, in flyer turns, repeat."""
        flyer, wheel = self.together
        y = monotone_cubic(flyer, np.arange(len(flyer), dtype=float), wheel)
        return repeating_gaps(np.diff(y[np.isfinite(y)]))

    @cached_property
    def flyer_gaps(self) -> int | None:
        """After how many flyer pulses their gaps repeat."""
        flyer, wheel = self.together
        if len(flyer) == 0 or len(wheel) == 0:
            return None
        pulse = len(wheel) / len(flyer)  # wheel pulses a flyer pulse; a turn is this over the targets, or over one
        scales = {pulse / self.targets(WHEEL), pulse}
        return repeating_times(flyer, [scale * h for scale in scales for h in range(1, _ORDERS + 1)])

    @cached_property
    def _other_lines(self) -> list[int] | None:
        """Numbers of all lines that are no rows, ascending; None when not all are known."""
        tally, entries = self.log.tally, self.log.header.entries
        known = [line for seen in tally.malformed.values() for line in seen.lines] + tally.bad_checksum_lines
        damaged = tally.malformed_lines + tally.bad_checksum
        return None if tally.empty or len(known) < damaged else sorted(known + [e.line for e in entries])

    def line_of(self, row: int) -> int | None:
        """Number of the line that a row stood on, None where too many lines were damaged to know it."""
        if self._other_lines is None:
            return None
        line = row + 1
        for other in self._other_lines:
            if other > line:
                break
            line += 1
        return line

    def lines_of(self, rows: list[int], most: int = 10) -> str | None:
        """Numbers of the first lines of these rows as text, None where not known."""
        return shown_lines([line for row in rows[:most] if (line := self.line_of(row)) is not None], len(rows))


def shown_lines(lines: list[int], count: int) -> str | None:
    """Line numbers as text, with a sign where there are more; None when none is known."""
    if not lines:
        return None
    return ", ".join(str(line) for line in sorted(lines)) + (", …" if count > len(lines) else "")


def _within(t_s: FloatArray, stretch: Stretch) -> FloatArray:
    inside: FloatArray = t_s[(t_s >= stretch.start_s) & (t_s <= stretch.end_s)]
    return inside
