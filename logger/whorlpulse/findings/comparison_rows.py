"""Two logs' slip, cadence and twist side by side: from estimates to the rows of a comparison.

What both logs were measured against is off by the same amount for both, so in the difference it all but drops out; each
log's own wandering and the chance of its bursts add. The ± are those of "another such log", not only of the turns
made: the question is whether the wheel has changed, not whether two runs differed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot, sqrt

from whorlpulse.estimators.cadence import CadenceEstimate
from whorlpulse.estimators.difference import NOTHING_SHARED, Shared, Span, difference, rate, span, span_difference
from whorlpulse.estimators.measured import Measured, weighted_sum
from whorlpulse.estimators.slip import SlipEstimate, WhorlSlip
from whorlpulse.estimators.slip_bursts import LEAST_LOST
from whorlpulse.estimators.slip_periodic import Line
from whorlpulse.estimators.slip_reference import Reference
from whorlpulse.findings.comparison import Row, What, WhorlRows, row

_SAME_ORDER = 0.02
#: A rhythm that is not found is smaller than this many standard deviations of its size.
_FOUND_FROM = 5.0
#: A cheap resonator is off by up to this share (design section 4).
_CLOCK_OFF = 0.005


@dataclass(frozen=True)
class Pair:
    """The same whorl in both logs. reference: shared by both."""

    first: WhorlSlip
    second: WhorlSlip
    reference: Reference


def whorl_rows(pair: Pair, a: SlipEstimate, b: SlipEstimate) -> WhorlRows:
    """Return one whorl's figures side by side; a, b: all of the two logs."""
    own = pair.reference.source == "this-capture"
    sides = [_Parts.of(w, m) for w, m in ((pair.first, a), (pair.second, b))]
    r0 = pair.reference.ratio
    rows = [*_slip_rows(sides[0], sides[1], r0, own=own)]
    if not (a.unseen or b.unseen):
        rows += [*_burst_rows(*sides), *_rhythm_rows(pair)]
    rows.append(_ratio_row(*sides))
    return WhorlRows(pair.reference.name, span(r0), pair.reference.source, tuple(rows), own)


@dataclass(frozen=True)
class _Parts:
    """A whorl's figures. kept: ratio without bursts, of another such log. sizes: flyer turns lost, burst by burst."""

    ratio: Measured
    kept: Measured
    sizes: tuple[float, ...]
    minutes: float
    wheel_turns: float

    @staticmethod
    def of(whorl: WhorlSlip, found: SlipEstimate) -> _Parts:
        runs = [found.ratio.runs[i] for i in whorl.runs]
        turns = sum(r.wheel_turns for r in runs)
        again = weighted_sum([r.expected for r in runs], [r.wheel_turns / turns for r in runs])
        kept = Measured(whorl.kept.value, hypot(whorl.kept.u, again.u), again.dof)
        sizes = tuple(b.lost for b in found.bursts if b.counted and found.whorls[b.whorl] is whorl)
        return _Parts(whorl.ratio, kept, sizes, sum(r.wheel_turns / r.cadence_hz for r in runs) / 60.0, turns)

    def lost(self, usual: float) -> Span:
        """Flyer turns lost in bursts per wheel turn."""
        return rate(self.sizes, self.wheel_turns, usual)

    def ratio_again(self, usual: float) -> Span:
        """The ratio that another such log would have: kept less what bursts lose."""
        lost = self.lost(usual)
        return _added(span(self.kept), Span(-lost.value, -lost.high, -lost.low), self.ratio.value)


def _usual(a: _Parts, b: _Parts) -> float:
    """What a burst loses on average, in either log."""
    sizes = [*a.sizes, *b.sizes]
    return sum(sizes) / len(sizes) if sizes else LEAST_LOST


def _ratio_row(a: _Parts, b: _Parts) -> Row:
    usual = _usual(a, b)
    first, second = a.ratio_again(usual), b.ratio_again(usual)
    return row("ratio", first, second, span_difference(first, second))


def _slip_rows(a: _Parts, b: _Parts, r0: Measured, *, own: bool) -> Iterator[Row]:
    """Slip, creep and bursts in points of r0; own: it is no ratio without slip, so only differences are known."""
    usual = _usual(a, b)
    bursts = [_scaled(p.lost(usual), 100.0 / r0.value) for p in (a, b)]
    creep = difference(_percent_of(a.kept, r0), _percent_of(b.kept, r0), _by_reference(a.kept, b.kept, r0))
    creeps = [span(_level(p.kept, r0)) for p in (a, b)]
    lost = span_difference(bursts[0], bursts[1])
    levels: list[Span]
    what: What
    total = 100.0 * (a.ratio.value - b.ratio.value) / r0.value
    slips = [
        _added(c, lost_here, 100.0 * (1.0 - p.ratio.value / r0.value))
        for p, c, lost_here in zip((a, b), creeps, bursts, strict=True)
    ]
    for what, levels, made in (("slip", slips, _added(span(creep), lost, total)), ("creep", creeps, span(creep))):
        yield row(what, None if own else levels[0], None if own else levels[1], made)
    yield row("bursts-lost", bursts[0], bursts[1], lost)


def _added(x: Span, y: Span, value: float) -> Span:
    """Return x + y, two independent values; value: the sum itself."""
    low = value - hypot(x.value - x.low, y.value - y.low)
    return Span(value, low, value + hypot(x.high - x.value, y.high - y.value))


def _percent_of(kept: Measured, r0: Measured) -> Measured:
    """Creep in per cent with the log's own uncertainty only."""
    return Measured(100.0 * (1.0 - kept.value / r0.value), 100.0 * kept.u / r0.value, kept.dof)


def _level(kept: Measured, r0: Measured) -> Measured:
    """Creep in per cent with the reference's uncertainty in it."""
    own = _percent_of(kept, r0)
    by_reference = 100.0 * kept.value * r0.u / r0.value**2
    return Measured(own.value, hypot(own.u, by_reference), own.dof if own.u > by_reference else r0.dof)


def _by_reference(a: Measured, b: Measured, r0: Measured) -> Shared:
    return Shared(r0.u, 100.0 * a.value / r0.value**2, 100.0 * b.value / r0.value**2)


def _scaled(s: Span, factor: float) -> Span:
    return Span(s.value * factor, s.low * factor, s.high * factor)


def _burst_rows(a: _Parts, b: _Parts) -> Iterator[Row]:
    usual = _usual(a, b)
    often = [rate([1.0] * len(p.sizes), p.minutes, 1.0) for p in (a, b)]
    yield row("burst-rate", often[0], often[1], span_difference(often[0], often[1]))
    lost = [rate(p.sizes, p.minutes, usual) for p in (a, b)]
    yield row("lost-rate", lost[0], lost[1], span_difference(lost[0], lost[1]))


def _rhythm_rows(pair: Pair) -> Iterator[Row]:
    """Each rhythm that either log has; one that is not found is taken to be smaller than could be found."""
    theirs = [x for x in pair.second.lines if x.source != "wheel"]
    for line in [x for x in pair.first.lines if x.source != "wheel"]:
        same = next((x for x in theirs if _same(line, x)), None)
        theirs = [x for x in theirs if x is not same]
        second = _size(same) if same is not None else _none_like(line, pair.first, pair.second)
        yield _rhythm(line, _size(line), second)
    for line in theirs:
        yield _rhythm(line, _none_like(line, pair.second, pair.first), _size(line))


def _same(x: Line, y: Line) -> bool:
    return abs(x.per_wheel_turn / y.per_wheel_turn - 1.0) < _SAME_ORDER


def _size(line: Line) -> Measured:
    return Measured(100.0 * line.share, 100.0 * line.share_u)


def _none_like(line: Line, found: WhorlSlip, other: WhorlSlip) -> Measured:
    u = 100.0 * line.share_u * sqrt(found.wheel_turns / other.wheel_turns)
    return Measured(0.0, 0.5 * _FOUND_FROM * u)


def _rhythm(line: Line, first: Measured, second: Measured) -> Row:
    made = span(difference(first, second))
    return row("rhythm", span(first), span(second), made, order=line.per_wheel_turn, band=line.source == "band")


def pace_rows(first: CadenceEstimate, second: CadenceEstimate, *, one_clock: bool) -> Iterator[Row]:
    """Cadence and steadiness, where both logs say them. one_clock: both boards are off alike, else each by as much."""
    if first.expected is not None and second.expected is not None:
        pace = [first.expected.times(60.0), second.expected.times(60.0)]
        off, shared = _CLOCK_OFF / sqrt(3.0), NOTHING_SHARED
        if one_clock:
            shared = Shared(off, pace[0].value, pace[1].value)
        else:
            pace = [Measured(c.value, hypot(c.u, off * c.value), c.dof) for c in pace]
        yield row("cadence", span(pace[0]), span(pace[1]), span(difference(pace[0], pace[1], shared)))
    if first.steadiness is not None and second.steadiness is not None:
        uneven = [c.overall.times(100.0) for c in (first.steadiness, second.steadiness)]
        yield row("steadiness", span(uneven[0]), span(uneven[1]), span(difference(uneven[0], uneven[1])))


def twist_row(first: Measured, second: Measured, roller_u: float) -> Row:
    """Twist in turns per metre. roller_u: by what share the one roller of both may be off; 0 without."""
    own = [Measured(t.value, sqrt(max(t.u**2 - (roller_u * t.value) ** 2, 0.0)), t.dof) for t in (first, second)]
    made = difference(own[0], own[1], Shared(roller_u, own[0].value, own[1].value))
    return row("twist", span(first), span(second), span(made))
