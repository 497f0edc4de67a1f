"""Do the sources of length agree? Each pair of roller, bobbin, length lines and total, over the same yarn.

For two lengths L₁, L₂ of one piece of yarn, measured independently,

    d = L₂/L₁ − 1,   (u(d)/(1 + d))² = (u₁/L₁)² + (u₂/L₂)²       (GUM 5.1.6)

They disagree when |d| > 3 u(d): by chance that would happen three times in a thousand. Sources that tell length against
time are compared in the spans without lost lines; a line with the time since the line before; a total only where no
line was lost and, with lines, where hardly any yarn went in after the last. A single line that fits the roller much
worse than the others is told apart: a slip of the pen moves the sum but is no roller that slips. Which source is used
for the twist is not decided here. Validated on simulated skeins: pairs agree where the simulator made them agree, and
disagreements of a few per cent are found (tests/draws).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np

from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.bobbin_length import NoBobbinLength, bobbin_length
from whorlpulse.estimators.measured import Measured, quotient
from whorlpulse.estimators.wound_turns import wound_turns_of
from whorlpulse.length import LengthSource, MeasuredLength, count_from, measured_length
from whorlpulse.phase import FlyerCount
from whorlpulse.pulses import ROLLER, FloatArray
from whorlpulse.rig import Rig

#: Standard uncertainties of the difference beyond which two lengths disagree.
_DISAGREE = 3.0
#: A line is odd that is off the others' proportion to the roller by this factor, and by more than a hand would see.
_ODD_FACTOR, _ODD_M = 1.3, 0.08
_FEWEST_LINES = 4
#: Flyer turns after the last line, as a share of the fewest for a line, beyond which more yarn may have gone in.
_AFTER_LAST = 0.85
_BEFORE_S = 1e-6
_LOSS_S = 2.0


@dataclass(frozen=True)
class LengthPair:
    """Two sources' lengths of the same yarn. apart: second over first less one (0.02 is 2 %)."""

    first: LengthSource
    second: LengthSource
    first_m: Measured
    second_m: Measured
    apart: Measured

    @property
    def agree(self) -> bool:
        """Whether the difference is no more than chance explains."""
        return abs(self.apart.value) <= _DISAGREE * self.apart.u


@dataclass(frozen=True)
class OddLine:
    """A `length` line that fits neither the roller nor its neighbours. at_s: its moment; roller_m: meanwhile."""

    at_s: float
    line_m: float
    roller_m: float


@dataclass(frozen=True)
class LengthAgreement:
    """All pairs that could be compared, and lines that stand out. not_compared: pairs for which the log won't do."""

    pairs: tuple[LengthPair, ...] = ()
    odd_lines: tuple[OddLine, ...] = ()
    not_compared: tuple[tuple[LengthSource, LengthSource], ...] = ()


@dataclass(frozen=True)
class _Course:
    """A source that tells length against time. share_u: relative uncertainty of all of it; end_u_m: of each end."""

    source: LengthSource
    t_s: FloatArray
    metres: FloatArray
    share_u: float
    end_u_m: float

    def between(self, spans: Sequence[tuple[float, float]]) -> Measured:
        """Length within the spans together."""
        total, ends = 0.0, 0
        for k, (a, b) in enumerate(spans):
            total += float(self._at(b) - self._at(a))
            ends += k == 0 or spans[k - 1][1] < a
        return Measured(total, float(np.hypot(self.share_u * total, self.end_u_m * np.sqrt(ends))))

    def _at(self, t: float) -> float:
        k = int(np.searchsorted(self.t_s, t, side="right"))
        return float(self.metres[k - 1]) if k else 0.0


def length_agreement(log: Conditioned, rig: Rig, flyer: FlyerCount, count_tex: float | None = None) -> LengthAgreement:
    """Compare all sources of length that a log and its rig have."""
    courses = [c for c in (_roller(log, rig), _bobbin(log, rig, count_tex)) if c is not None]
    lines = measured_length(log, replace(rig, total=None, roller=None))
    lines = lines if lines is not None and lines.source == "marks" else None
    start_s, _ = count_from(log, rig)
    whole = _unbroken(log, start_s, max((s.end_s for s in log.stretches), default=start_s))
    pairs: list[LengthPair] = []
    skipped: list[tuple[LengthSource, LengthSource]] = []
    for one, other in combinations(courses, 2):
        pairs.append(_pair(one.source, other.source, one.between(whole), other.between(whole)))
    odd: tuple[OddLine, ...] = ()
    if lines is not None:
        for course in courses:
            spans, noted = _whole_lines(log, lines)
            pairs.append(_pair(course.source, "marks", course.between(spans), noted))
            if course.source == "roller":
                odd = _odd_lines(course, lines, spans)
    if rig.total is not None:
        total = Measured(rig.total.m, rig.total.m_u)
        for course in courses:
            if len(whole) > 1:
                skipped.append((course.source, "total"))
            else:
                pairs.append(_pair(course.source, "total", course.between(whole), total))
        if lines is not None and _ends_with_lines(lines, flyer):
            pairs.append(_pair("marks", "total", Measured(lines.total_m, lines.u_m), total))
        elif lines is not None:
            skipped.append(("marks", "total"))
    kept = tuple(p for p in pairs if p.first_m.value > 0 and p.second_m.value > 0)
    return LengthAgreement(kept, odd, tuple(skipped))


def _pair(first: LengthSource, second: LengthSource, one: Measured, other: Measured) -> LengthPair:
    apart = quotient(other, one) if one.value > 0 else Measured(0.0, 0.0)
    return LengthPair(first, second, one, other, replace(apart, value=apart.value - 1.0))


def _unbroken(log: Conditioned, start_s: float, end_s: float) -> list[tuple[float, float]]:
    inside = log.break_s[(log.break_s > start_s) & (log.break_s < end_s)]
    edges = [start_s, *inside.tolist(), end_s + 60.0]
    return [(a, b - _BEFORE_S) for a, b in pairwise(edges)]  # what passed while lines were lost is in no span


def _roller(log: Conditioned, rig: Rig) -> _Course | None:
    if rig.roller is None or len(log.trains[ROLLER]) < 2 or ROLLER in log.coarse:
        return None
    gap = rig.roller.m / rig.targets["y"]
    t = np.sort(np.concatenate([piece.counted.t_s for piece in log.rolls]))
    # both ends stand anywhere between two targets: triangular over ± one gap (GUM 4.3.9)
    share = rig.roller.m_u / rig.roller.m
    return _Course("roller", t, gap * np.arange(1.0, len(t) + 1.0), share, gap / float(np.sqrt(6.0)))


def _bobbin(log: Conditioned, rig: Rig, count_tex: float | None) -> _Course | None:
    try:
        found = bobbin_length(log, rig, count_tex)
    except NoBobbinLength:
        return None
    wound = wound_turns_of(log)
    if found is None or wound is None:
        return None
    turns = np.maximum.accumulate(wound.turns - (wound.total - found.turns.value))
    metres = found.growth.length_m(np.maximum(turns, 0.0))
    return _Course("bobbin", wound.t_s, metres, found.length.u / found.length.value, 0.0)


def _whole_lines(log: Conditioned, lines: MeasuredLength) -> tuple[list[tuple[float, float]], Measured]:
    """Return the spans of the lines in which nothing was lost, and what the lines say of them together."""
    spans, total = [], 0.0
    for piece in lines.pieces:
        # a break is told by the first row after it: lines may have been missing for a moment before
        i, j = np.searchsorted(log.break_s, [piece.start_s, piece.end_s + _LOSS_S], side="right")
        if i == j:
            spans.append((piece.start_s, piece.end_s))
            total += piece.length_m
    u = lines.u_m * np.sqrt(len(spans) / max(len(lines.pieces), 1))
    return spans, Measured(total, float(u))


def _ends_with_lines(lines: MeasuredLength, flyer: FlyerCount) -> bool:
    """Tell whether the log ends before any more yarn can have gone in than the lines say."""
    at = flyer.turns_at(np.array([lines.pieces[0].start_s, *(p.end_s for p in lines.pieces), flyer.knot_s[-1]]))
    made = np.diff(at)
    return bool(made[-1] <= _AFTER_LAST * made[:-1].min())


def _odd_lines(roller: _Course, lines: MeasuredLength, whole: Sequence[tuple[float, float]]) -> tuple[OddLine, ...]:
    """Return the lines that don't fit, of those in which nothing was lost."""
    pieces = [p for p in lines.pieces if (p.start_s, p.end_s) in whole]
    if len(pieces) < _FEWEST_LINES:
        return ()
    told = np.array([p.length_m for p in pieces])
    rolled = np.array([roller.between([(p.start_s, p.end_s)]).value for p in pieces])
    usual = float(np.median(told[rolled > 0] / rolled[rolled > 0])) if (rolled > 0).any() else 0.0
    if usual <= 0:
        return ()
    due = usual * rolled
    off = np.abs(np.log(told / np.maximum(due, 1e-6))) > np.log(_ODD_FACTOR)
    off &= np.abs(told - due) > np.maximum(_ODD_M, _DISAGREE * roller.end_u_m)
    rows = zip(pieces, told.tolist(), rolled.tolist(), off.tolist(), strict=True)
    return tuple(OddLine(p.end_s, m, r) for p, m, r, is_off in rows if is_off)
