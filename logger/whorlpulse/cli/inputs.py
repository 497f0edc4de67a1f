"""From options, wheel file and a log's own `#` lines to a rig: option over wheel file over log over default.

Text with units ends here: whatever goes on is in metres.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType
from typing import Final

from whorlpulse import units
from whorlpulse.actions.recording import Recording, read_recording
from whorlpulse.findings.catalogue import sentence
from whorlpulse.findings.report import Note, note
from whorlpulse.logfile import Header, LogError
from whorlpulse.logfile.header import Entry, Problem
from whorlpulse.rig import Length, LengthMark, Rig
from whorlpulse.sources.files import STANDARD_INPUT, log_blocks, read_bytes, shown

from .exits import InputError
from .plan_file import PlanFile, read_plan
from .progress import Progress, followed
from .toml_tables import printable
from .total_option import total_option
from .wheel_file import WheelFile, read_wheel

_MOST_TARGETS: Final = 4096
_CLOCK_TIE: Final = re.compile(r"([wfby]) (\d{1,6}(?:\.\d{1,9})?)")
_TARGET: Final = re.compile(r"([wfby])=([0-9]{1,4})")
#: Keys of the log without which nothing can be counted.
_ALWAYS_NEEDED: Final = ("tick_hz", "tick_bits", "targets")


@dataclass(frozen=True)
class Given:
    """The options as typed, None where left out."""

    wheel: str | None = None
    targets: str | None = None
    roller: str | None = None
    total: str | None = None


def opened(path: str) -> Recording:
    """Return the log at `path` (- for standard input), with a bar while a large one is read."""
    name = "standard input" if path == STANDARD_INPUT else Path(path).name
    if name.lower().endswith(".toml"):
        raise InputError(sentence("toml-for-log").format(file=shown(path)))
    blocks = log_blocks(path)
    try:
        with Progress(f"reading {shown(name)}") as progress:
            return read_recording(followed(blocks, path, progress), shown(name))
    except LogError as fault:
        raise InputError(f"{shown(path)}: {fault}") from None


def wheel_at(path: str) -> WheelFile:
    """Return the wheel file at `path`."""
    return read_wheel(read_bytes(path), shown(path))


def plan_at(path: str) -> PlanFile:
    """Return the plan file at `path`."""
    return read_plan(read_bytes(path), shown(path))


def plan_notes(plan: PlanFile) -> list[Note]:
    """Return the note that the plan's factor would make another twist, if it would."""
    if plan.factor_tpm is None:
        return []
    return [note("two-twists", tpi=units.tpi_from_tpm(plan.factor_tpm), tpm=plan.factor_tpm)]


def rig_of(recording: Recording, given: Given, *, needs_length: bool) -> tuple[Rig, list[Note]]:
    """Return the rig of a log, and notes on what its `#` lines say that can't be used.

    needs_length: a roller or `length` line that can't be read is an InputError then, unless an option stands for it.
    """
    header, file = recording.log.header, recording.capture
    wheel = wheel_at(given.wheel) if given.wheel is not None else None
    targets = _targets_option(given.targets)
    _refuse_if_needed(header, file, _keys_needed(given, targets, needs_length=needs_length))
    rig = Rig(tick_hz=header.tick_hz, tick_bits=header.tick_bits, targets=header.targets)
    if wheel is not None:
        rig = wheel.onto(rig)
    notes: list[Note] = []
    rig = replace(
        rig,
        targets=MappingProxyType({**rig.targets, **targets}),
        roller=_roller(header, given, file, notes, needs_length=needs_length),
        length_marks=_marks(header, given, file, notes, needs_length=needs_length),
        total=total_option(given.total),
        clock_tie_u_s=clock_ties(header),
    )
    return rig, notes


def clock_ties(header: Header) -> Mapping[str, float]:
    """The `clock-tie` lines, `<channel> <standard uncertainty in seconds>`; the last one of a channel counts."""
    ties = {}
    for entry in header.entries:
        found = _CLOCK_TIE.fullmatch(entry.value) if entry.key == "clock-tie" else None
        if found:
            ties[found[1]] = float(found[2])
    return MappingProxyType(ties)


def length_option(option: str, text: str | None) -> Length | None:
    """Return the length that an option gives; InputError, naming the option, if it is none."""
    if text is None:
        return None
    try:
        return Length(*units.length(text))
    except units.UnitsError as fault:
        raise InputError(sentence("bad-option").format(option=option, why=fault)) from None


def _targets_option(text: str | None) -> Mapping[str, int]:
    if text is None:
        return {}
    pairs = [_TARGET.fullmatch(word) for word in text.replace(",", " ").split()]
    found = {pair[1]: int(pair[2]) for pair in pairs if pair is not None}
    if not found or None in pairs or not all(1 <= n <= _MOST_TARGETS for n in found.values()):
        raise InputError(sentence("targets-option").format(given=printable(text), most=_MOST_TARGETS))
    return found


def _keys_needed(given: Given, targets: Mapping[str, int], *, needs_length: bool) -> set[str]:
    keys = set(_ALWAYS_NEEDED)
    if targets:
        keys.discard("targets")
    if needs_length and given.total is None and given.roller is None:
        keys.add("length")
    return keys


def _refuse_if_needed(header: Header, file: str, needed: set[str]) -> None:
    """Refuse a bad value of a needed key, unless a good line of the key stands in for it."""
    bad_lines = {p.line for p in header.problems}
    good = {e.key for e in header.entries if e.line not in bad_lines}
    for problem in header.problems:
        if problem.key in needed and (problem.key == "length" or problem.key not in good):
            option = ", or give --targets" if problem.key == "targets" else ""
            raise InputError(_needed(file, problem, option))


def _needed(file: str, bad: Problem, or_option: str = "") -> str:
    value = printable(bad.value)
    return sentence("header-needed").format(
        file=file, line=bad.line, key=bad.key, value=value, why=bad.why, or_option=or_option
    )


def _roller(header: Header, given: Given, file: str, notes: list[Note], *, needs_length: bool) -> Length | None:
    """Return the yarn that one turn of the roller takes in."""
    if given.roller is not None:
        return length_option("--roller", given.roller)
    if header.roller is None:
        return None
    try:
        return Length(*units.length(header.roller))
    except units.UnitsError as fault:
        line = next((e.line for e in reversed(header.entries) if e.key == "roller"), 0)
        bad = Problem(line, "roller", header.roller, _why(fault))
        if needs_length and given.total is None:
            raise InputError(_needed(file, bad, ", or give --roller")) from None
        notes.append(_left_aside(bad))
        return None


def _marks(header: Header, given: Given, file: str, notes: list[Note], *, needs_length: bool) -> tuple[LengthMark, ...]:
    """Return the log's `length` lines in metres."""
    marks = []
    for entry, mark in _written_lengths(header):
        try:
            marks.append(replace(mark, length=_length_of(entry)))
        except units.UnitsError as fault:
            bad = Problem(entry.line, "length", entry.value, _why(fault))
            if needs_length and given.total is None and given.roller is None:
                raise InputError(_needed(file, bad, ", or give --total")) from None
            notes.append(_left_aside(bad))
    return tuple(marks)


def _written_lengths(header: Header) -> Iterator[tuple[Entry, LengthMark]]:
    """Yield each `length` line as it was written (its digits tell its uncertainty) with its place."""
    by_line = {e.line: e for e in header.entries if e.key == "length"}
    for line in header.lengths:
        yield by_line[line.line], LengthMark(line.tick, line.row, Length(0.0))


def _length_of(entry: Entry) -> Length:
    text = entry.value.split(None, 1)[1]
    if not text.strip("0. +-eE"):  # a zero may go without a unit
        return Length(0.0)
    return Length(*units.length(text, allow_zero=True))


def _why(fault: units.UnitsError) -> str:
    """Return the reason alone: the value is quoted already."""
    return str(fault).split('" ', 1)[-1].rstrip(".")


def _left_aside(bad: Problem) -> Note:
    return note("header-value", line=bad.line, key=bad.key, value=printable(bad.value), why=bad.why)
