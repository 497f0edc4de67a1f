"""From a recording and a rig to the health report: what is wrong with a log or a sensor."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice

from whorlpulse.actions.recording import Blocks, Recording
from whorlpulse.findings.evidence import Facts, Framing
from whorlpulse.findings.health import HealthReport, health_of, line_counts
from whorlpulse.findings.report import Note, note
from whorlpulse.rig import Rig
from whorlpulse.wire.grammar import PULSE

#: Pulse lines at the head of a log that are looked at to learn what they carry.
_LOOKED_AT = 4096


def check_health(recording: Recording, rig: Rig, notes: Sequence[Note] = ()) -> HealthReport:
    """Return the health report of a recording; notes: what was said already while the rig was put together."""
    tally = recording.log.tally
    if tally.total == tally.metadata + tally.empty:
        why_not = note("empty") if tally.total == 0 else note("no-pulse-lines", lines=tally.total)
        return HealthReport(recording.capture, line_counts(tally), cannot_say=why_not, notes=(*notes, why_not))
    facts = Facts(recording.log, recording.conditioned(rig), rig, framing_of(recording.blocks))
    return health_of(recording.capture, facts, tuple(notes))


def framing_of(blocks: Blocks) -> Framing:
    """Return what the first whole pulse lines carry; blocks: gives the log's bytes from the start."""
    lines = numbered = checked = 0
    head = next(iter(blocks()), b"")
    for line in islice(head.split(b"\n"), _LOOKED_AT):
        found = PULSE.fullmatch(line.removesuffix(b"\r"))
        if found is not None:
            lines += 1
            numbered += found[3] is not None
            checked += found[5] is not None
    return Framing(lines, numbered, checked)
