"""Rules about lines, clock and board: what was counted while the log was read. Counts are sure; causes are not."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from whorlpulse.findings.evidence import Facts, shown_lines
from whorlpulse.findings.report import Finding
from whorlpulse.pulses import KEEP_ALIVE, OVERRUN

if TYPE_CHECKING:
    from whorlpulse.findings.report import Figure

#: Lines without a sequence number or checksum in the log's head from which on it counts as not carrying them.
_FEWEST_FRAMED = 8
_SHOWN = 40  # characters of a header value


def line_findings(facts: Facts) -> Iterator[Finding]:
    """Yield what is wrong with lines, clock and board."""
    for rule in (_lost, _corrupt, _malformed, _torn, _overruns, _jumped, _unbelievable, _silent, _header, _framing):
        yield from rule(facts)


def _known(**figures: Figure | None) -> dict[str, Figure]:
    return {name: figure for name, figure in figures.items() if figure is not None}


def _lost(facts: Facts) -> Iterator[Finding]:
    tally = facts.log.tally
    if tally.lost == 0:
        return
    damaged = {line for seen in tally.malformed.values() for line in seen.lines} | set(tally.bad_checksum_lines)
    after = []
    for line, missing in zip(facts.log.gap_line.tolist(), facts.log.rows.gap_lines.tolist(), strict=True):
        arrived = 0
        while line - 1 - arrived in damaged:
            arrived += 1
        if missing > arrived:
            after.append(line)
    yield Finding(
        "lines-lost",
        1.0,
        _known(lost=tally.lost, gaps=max(len(after), 1), lines=shown_lines(after[:10], len(after))),
    )


def _corrupt(facts: Facts) -> Iterator[Finding]:
    tally = facts.log.tally
    if tally.bad_checksum:
        lines = shown_lines(tally.bad_checksum_lines, tally.bad_checksum)
        yield Finding("lines-corrupt", 1.0, _known(lines_n=tally.bad_checksum, lines=lines))


def _malformed(facts: Facts) -> Iterator[Finding]:
    tally = facts.log.tally
    if tally.malformed:
        worst = sorted(tally.malformed.items(), key=lambda pair: -pair[1].count)
        causes = "; ".join(f"{cause} ({s.count}: line {shown_lines(s.lines[:5], s.count)})" for cause, s in worst)
        yield Finding("lines-malformed", 1.0, {"lines_n": tally.malformed_lines, "causes": causes})


def _torn(facts: Facts) -> Iterator[Finding]:
    if facts.log.tally.torn_tail:
        yield Finding("torn-tail", 1.0, {"line": facts.log.tally.total})


def _overruns(facts: Facts) -> Iterator[Finding]:
    rows = np.flatnonzero(facts.log.rows.channel == OVERRUN)
    if len(rows) == 0:
        return
    given = np.isin(facts.log.rows.count_row, rows)
    pulses = int(facts.log.rows.count_value[given].sum()) + len(rows) - int(given.sum())
    yield Finding(
        "overruns",
        1.0,
        _known(pulses=pulses, times=len(rows), lines=facts.lines_of(rows.tolist()), seconds=_seconds(facts, rows[:5])),
    )


def _jumped(facts: Facts) -> Iterator[Finding]:
    """A restart shows in the clock, in the sequence numbers, or both; a second header means that logs were joined."""
    resumed = [e.row for e in facts.log.header.entries if e.key == "resumed"]  # the host says itself that it went on
    restarts = np.setdiff1d(facts.conditioned.clocked.restarts, resumed)
    began_anew = max(facts.log.tally.restarted - len(resumed), 0)
    if len(restarts) == 0 and began_anew == 0:
        return
    rows = restarts if len(restarts) else facts.log.rows.gap_row[facts.log.rows.gap_lines == 0]
    header = next((e.line for e in facts.log.header.entries if e.key == "format" and e.row > 0), None)
    figures = _known(
        times=max(len(restarts), began_anew),
        lines=facts.lines_of(rows.tolist()),
        seconds=_seconds(facts, rows[:5]),
        numbers=began_anew or None,
        header_line=header,
    )
    # A tick's damaged digit jumps back too; the sequence beginning anew, or a new header, leaves no other story.
    yield Finding("clock-jumped-back", 0.99 if began_anew or header else 0.9, figures)


def _unbelievable(facts: Facts) -> Iterator[Finding]:
    bad = np.flatnonzero(~facts.conditioned.clocked.usable)
    if len(bad) == 0:
        return
    bits = facts.rig.tick_bits
    beyond = int((facts.log.rows.tick[bad] >= 1 << bits).sum()) if bits else 0
    lines = facts.lines_of(bad.tolist())
    # Beyond the range is sure; a tick out of line between two that agree is nearly so.
    confidence = 1.0 if beyond == len(bad) else 0.95
    yield Finding(
        "clock-unbelievable",
        confidence,
        _known(rows=len(bad), lines=lines, beyond=beyond or None, bits=bits if beyond else None),
    )


def _silent(facts: Facts) -> Iterator[Finding]:
    clocked, rows = facts.conditioned.clocked, facts.log.rows
    if len(rows) and not (rows.channel == KEEP_ALIVE).any():
        yield Finding("no-keep-alives", 1.0)
    lost = rows.gap_row[rows.gap_lines > 0]
    silences = np.setdiff1d(clocked.silences, lost)  # lines lost on the way explain their own silence
    if len(silences) == 0:
        return
    length = (clocked.tick[silences] - clocked.tick[silences - 1]) / facts.rig.tick_hz
    longest = int(np.argmax(length))
    start = float(clocked.tick[silences[longest] - 1]) / facts.rig.tick_hz
    yield Finding(
        "board-silent",
        0.9,
        _known(seconds=float(length.sum()), times=len(silences), from_s=start, lines=facts.lines_of(silences.tolist())),
    )


def _header(facts: Facts) -> Iterator[Finding]:
    header = facts.log.header
    for problem in header.problems:
        instead = None
        if problem.key == "targets":
            instead = " ".join(f"{c}={n}" for c, n in header.targets.items())
        elif problem.key in ("tick_hz", "tick_bits", "seq_bits"):
            instead = f"{getattr(header, problem.key):.10g}"
        value = "".join(c if c.isprintable() else "?" for c in problem.value[:_SHOWN])
        figures = _known(key=problem.key, instead=instead, line=problem.line, value=repr(value), why=problem.why)
        yield Finding("header-value", 1.0, figures)


def _framing(facts: Facts) -> Iterator[Finding]:
    framing = facts.framing
    if framing.lines < _FEWEST_FRAMED:
        return
    if framing.checked == 0:
        yield Finding("no-checksums", 1.0)
    if framing.numbered == 0:
        yield Finding("no-sequence", 1.0)


def _seconds(facts: Facts, rows: np.ndarray) -> str:
    """Times of rows since the log's first line, as text, to a tenth of a second."""
    return ", ".join(f"{t:.1f}" for t in (facts.conditioned.clocked.tick[rows] / facts.rig.tick_hz).tolist())
