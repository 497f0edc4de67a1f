"""From a recording of pulled lengths to the roller's length per turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from whorlpulse.actions.recording import Recording, line_notes, unreadable
from whorlpulse.conditioning.chain import Conditioned
from whorlpulse.estimators.roller_circumference import PullsDiffer, RollerCircumference, roller_circumference
from whorlpulse.estimators.roller_pulls import Pull, Pulls, find_pulls, roller_reports_singly
from whorlpulse.findings.calibration_report import CalibrationReport
from whorlpulse.findings.catalogue import sentence
from whorlpulse.findings.report import Note, note
from whorlpulse.length import mark_time
from whorlpulse.pulses import KEEP_ALIVE, ROLLER, SHAFTS
from whorlpulse.rig import Length, LengthMark, Rig


def calibrate_roller(
    recording: Recording, rig: Rig, lengths: Sequence[Length], pulls: int | None, notes: Sequence[Note] = ()
) -> CalibrationReport:
    """Return the calibration of the roller.

    lengths: as given, one for all pulls or one for each; without any, the log's own `length` lines give them. pulls:
    how many there are, None if not said.
    """
    log = recording.conditioned(rig)
    said = [*notes, *line_notes(recording)]
    blank = CalibrationReport(recording.capture, rig.targets["y"], stated=rig.roller)
    why_not = unreadable(recording, log, rig) or _lacks_roller(recording, log) or _lacks_lengths(lengths, rig)
    if why_not is not None:
        return _no_answer(blank, why_not, said)
    written = _written_lines(recording, rig, log)
    found = find_pulls(log, [t for t, _ in written], _expected(lengths, pulls))
    chosen = _lengths(found, lengths, written)
    if isinstance(chosen, Note):
        return _no_answer(blank, chosen, said)
    kept = [(p, length) for p, length in zip(found.pulls, chosen, strict=True) if not p.lost]
    if not kept:
        return _no_answer(blank, note("calibrate-all-lost"), said)
    mine, their = [p for p, _ in kept], [length for _, length in kept]
    try:
        result = roller_circumference([p.pulses for p in mine], their, rig.targets["y"])
    except PullsDiffer as differ:
        return _no_answer(blank, _differ(mine, differ), said)
    about = _about(found, kept_all=len(kept), result=result, stated=rig.roller)
    if lengths and any(length is not None and length.m > 0 for _, length in written):
        about.append(note("calibrate-given-over-log"))
    return CalibrationReport(
        recording.capture,
        rig.targets["y"],
        result,
        tuple(mine),
        tuple(their),
        found.parted_by,
        rig.roller,
        _limit(result),
        None,
        (*about, *said),
    )


def _no_answer(blank: CalibrationReport, why_not: Note, said: Sequence[Note]) -> CalibrationReport:
    return CalibrationReport(
        blank.capture, blank.targets, stated=blank.stated, cannot_say=why_not, notes=(*said, why_not)
    )


def _lacks_lengths(given: Sequence[Length], rig: Rig) -> Note | None:
    known = given or any(m.length.m > 0 for m in rig.length_marks)
    return None if known else note("calibrate-which-length")


def _expected(given: Sequence[Length], pulls: int | None) -> int | None:
    """Return how many pulls there should be, as said or by the lengths given; None where neither tells."""
    return len(given) if pulls is None and len(given) > 1 else pulls


def _lacks_roller(recording: Recording, log: Conditioned) -> Note | None:
    channel, pulses = recording.log.rows.channel, len(log.trains[ROLLER])
    if pulses == 0:
        there = [f"{chr(c)} ({np.count_nonzero(channel == c)})" for c in (*SHAFTS, KEEP_ALIVE) if (channel == c).any()]
        return note("calibrate-no-roller", others=" and ".join(there) or "nothing else")
    if not roller_reports_singly(log):
        return note("calibrate-coarse")
    return note("calibrate-too-few", pulses=pulses) if pulses < 2 else None


def _written_lines(recording: Recording, rig: Rig, log: Conditioned) -> list[tuple[float, Length | None]]:
    """Return the log's `mark` lines (without a length) and `length` lines by time."""
    marks = [LengthMark(m.tick, m.row, Length(0.0)) for m in recording.log.header.marks]
    rows: list[tuple[float, Length | None]] = [(mark_time(log, rig, m), None) for m in marks]
    rows += [(mark_time(log, rig, m), m.length) for m in rig.length_marks]
    return sorted(rows, key=lambda row: row[0])


def _lengths(
    found: Pulls, given: Sequence[Length], written: Sequence[tuple[float, Length | None]]
) -> list[Length] | Note:
    """Return one length for each pull, or why there is none."""
    if len(given) == 1:
        return [given[0]] * len(found.pulls)
    if given and len(given) != len(found.pulls):
        when = ", ".join(f"{p.start_s:.0f}" for p in found.pulls)
        return note("calibrate-how-many", given=len(given), found=len(found.pulls), when=when)
    if given:
        return list(given)
    lengths = []
    for pull, line in zip(found.pulls, found.line, strict=True):
        length = written[line][1] if line is not None else None
        if length is None or length.m == 0:
            return note("calibrate-no-length", start=round(pull.start_s), end=round(pull.end_s))
        lengths.append(length)
    return lengths


def _differ(pulls: Sequence[Pull], differ: PullsDiffer) -> Note:
    pulses = ", ".join(str(p.pulses) for p in pulls[:8])
    cm = ", ".join(f"{100 * m:.2f}" for m in differ.each_m[:8])
    return note("calibrate-pulls-differ", pulses=pulses, cm=cm)


def _limit(result: RollerCircumference) -> Note:
    by_length, by_pulls = result.length_u**2, result.pull_u**2
    share = round(100 * max(by_length, by_pulls) / (by_length + by_pulls))
    if by_length >= by_pulls:
        return note("calibrate-limit-length", percent=share)
    if result.pull_limit == "scatter" and result.scatter_m is not None:
        return note("calibrate-limit-scatter", percent=share, scatter_cm=100 * result.scatter_m)
    return note("calibrate-limit-pulses", percent=share)


def _about(found: Pulls, kept_all: int, result: RollerCircumference, stated: Length | None) -> list[Note]:
    """Return what to do next, what was left out, and what the log says of itself."""
    few = {1: "calibrate-one-pull", 2: "calibrate-two-pulls"}
    notes = [note(few[kept_all])] if kept_all in few else []
    if result.pulls_to_halve is not None:
        notes.append(note("calibrate-halve", pulls=result.pulls_to_halve))
    elif kept_all > 1:
        notes.append(note("calibrate-halve-never"))
    if lost := len(found.pulls) - kept_all:
        notes.append(note("calibrate-lost", pulls=lost))
    if found.stray_pulses:
        notes.append(note("calibrate-stray", pulses=found.stray_pulses))
    if result.odd is not None:
        notes.append(note("calibrate-odd", pull=result.odd + 1, cm=100 * result.each_m[result.odd]))
    if stated is not None:
        notes.append(_against_stated(result, stated))
    return [*notes, note("calibrate-as-spun")]


def _against_stated(result: RollerCircumference, stated: Length) -> Note:
    """Compare with what the log says; its own uncertainty counts too."""
    off = stated.m - result.per_turn.value
    both = replace(result.per_turn, value=abs(off), u=float(np.hypot(result.per_turn.u, stated.m_u)))
    stated_cm = f"{100 * stated.m:.6g}"
    if both.low <= 0:
        return note("calibrate-agrees", stated_cm=stated_cm)
    wrong, twist = ("long", "low") if off > 0 else ("short", "high")
    return note(
        "calibrate-differs",
        stated_cm=stated_cm,
        percent=100 * abs(off) / result.per_turn.value,
        wrong=sentence(f"calibrate-too-{wrong}"),
        twist=sentence(f"calibrate-too-{twist}"),
    )
