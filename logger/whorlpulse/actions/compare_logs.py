"""From two recordings to what differs between them: each measured as ever, whorls matched, one reference for both."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from whorlpulse.actions.measure_slip import measure_slip
from whorlpulse.actions.measure_twist import measure_twist
from whorlpulse.actions.recording import Side
from whorlpulse.estimators.cadence import CadenceEstimate, estimate_cadence
from whorlpulse.estimators.difference import span
from whorlpulse.estimators.slip import SlipEstimate, WhorlSlip
from whorlpulse.estimators.slip_reference import Reference, known_whorls, reference_for
from whorlpulse.estimators.twist import TwistEstimate
from whorlpulse.findings.comparison import CompareReport, OneSide, Row
from whorlpulse.findings.comparison_rows import Pair, pace_rows, twist_row, whorl_rows
from whorlpulse.findings.report import Note, note
from whorlpulse.findings.slip_report import SlipReport

#: Where several whorls were used, ratios so near to one another are of the same one.
_SAME_WHORL = 0.04
#: Where only one was, further apart than this is another whorl: no band is that much better or worse.
_ANOTHER_WHORL = 0.25
#: Findings that make a log's counts themselves doubtful.
_DOUBTFUL = frozenset({"channels-swapped", "wheel-targets", "flyer-targets", "ratio-unlikely"})


@dataclass(frozen=True)
class _Measured:
    """What was measured of one log."""

    side: Side
    slip: SlipReport
    found: SlipEstimate
    pace: CadenceEstimate
    twist: TwistEstimate | None

    @property
    def minutes(self) -> float:
        """Treadled minutes that count."""
        return sum(r.wheel_turns / r.cadence_hz for r in self.found.ratio.runs) / 60.0


def compare_logs(first: Side, second: Side, references: Sequence[Reference] = ()) -> CompareReport:
    """Return what differs from the first log to the second; references: as for `measure_slip`, for both."""
    capture = f"{first.recording.capture}, {second.recording.capture}"
    reports = [measure_slip(side.recording, side.rig, references, side.notes) for side in (first, second)]
    failed = next((r for r in reports if r.cannot_say is not None), None)
    if failed is not None:
        sides = [OneSide(r.capture, findings=r.findings, notes=r.notes) for r in reports]
        return CompareReport(failed.capture, sides[0], sides[1], cannot_say=failed.cannot_say)
    a, b = (_measured(side, report) for side, report in zip((first, second), reports, strict=True))
    pairs = _pairs(a, b, references)
    whorls = tuple(whorl_rows(pair, a.found, b.found) for pair in pairs)
    sides = [
        OneSide(
            m.slip.capture,
            m.minutes,
            tuple(span(w.ratio) for w in m.found.whorls if not any(w is getattr(p, which) for p in pairs)),
            m.slip.findings,
            m.slip.notes,
        )
        for m, which in ((a, "first"), (b, "second"))
    ]
    whole = (*pace_rows(a.pace, b.pace, one_clock=_one_clock(a, b)), *_twist_rows(a, b))
    return CompareReport(capture, sides[0], sides[1], whorls, whole, notes=tuple(_notes(pairs, a, b)))


def _measured(side: Side, report: SlipReport) -> _Measured:
    assert report.found is not None
    twist = measure_twist(side.recording, side.rig).found
    return _Measured(side, report, report.found, estimate_cadence(side.recording.conditioned(side.rig)), twist)


def _pairs(a: _Measured, b: _Measured, references: Sequence[Reference]) -> list[Pair]:
    """Match whorls: by the wheel file's name, else by their ratios without bursts, the nearest first."""
    known = [*references, *known_whorls(a.side.rig)]
    single = len(a.found.whorls) == len(b.found.whorls) == 1
    within = _ANOTHER_WHORL if single else _SAME_WHORL
    tried = []
    for x in a.found.whorls:
        for y in b.found.whorls:
            names = (x.reference.name, y.reference.name)
            apart = abs(x.kept.value / y.kept.value - 1.0)
            if None not in names and names[0] != names[1] and not single:
                continue
            if apart < (_ANOTHER_WHORL if None not in names and names[0] == names[1] else within):
                tried.append((apart, x, y))
    pairs: list[Pair] = []
    for _, x, y in sorted(tried, key=lambda t: t[0]):
        if not any(x is p.first or y is p.second for p in pairs):
            pairs.append(Pair(x, y, _shared_reference(x, y, known)))
    return sorted(pairs, key=lambda p: p.first.ratio.value)


def _shared_reference(x: WhorlSlip, y: WhorlSlip, known: Sequence[Reference]) -> Reference:
    """One ratio without slip for both: what is known of the faster one's, else the better one's own best."""
    fast = x if x.kept.value >= y.kept.value else y
    found = reference_for(fast.kept, known)
    return found or max((x.reference, y.reference), key=lambda r: r.ratio.value)


def _one_clock(a: _Measured, b: _Measured) -> bool:
    boards = [m.side.recording.log.header.board for m in (a, b)]
    return boards[0] is not None and boards[0] == boards[1]


def _twist_rows(a: _Measured, b: _Measured) -> tuple[Row, ...]:
    if a.twist is None or b.twist is None:
        return ()
    rollers = [m.side.rig.roller for m in (a, b)]
    by_roller = all(t.length_source == "roller" for t in (a.twist, b.twist)) and rollers[0] == rollers[1]
    off = rollers[0].m_u / rollers[0].m if by_roller and rollers[0] is not None else 0.0
    return (twist_row(a.twist.twist, b.twist.twist, off),)


def _notes(pairs: Sequence[Pair], a: _Measured, b: _Measured) -> Iterator[Note]:
    if not pairs:
        yield note("no-common-whorl")
    if any(p.reference.source == "this-capture" for p in pairs):
        yield note("compare-own-reference")
    elif pairs:
        yield note("compare-shared-reference")
    for p in pairs:
        apart = abs(p.second.kept.value / p.first.kept.value - 1.0)
        if apart > _SAME_WHORL:
            yield note("compare-far-apart", percent=100.0 * apart)
    for m in (a, b):
        if any(f.id in _DOUBTFUL for f in m.slip.findings):
            yield note("compare-doubtful", file=m.slip.capture)
    if (a.twist is None) != (b.twist is None):
        yield note("compare-one-length", file=(b if a.twist is not None else a).slip.capture)
    if a.pace.mean is not None and b.pace.mean is not None and not _one_clock(a, b):
        yield note("compare-two-clocks")
