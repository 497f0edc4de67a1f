"""A log that was read, and what its lines alone say: what is noted beside every answer, what forbids one."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from math import ceil

import numpy as np

from whorlpulse.conditioning.chain import Conditioned, condition
from whorlpulse.estimators.clock_steps import FEWEST_TICKS, coarse_steps
from whorlpulse.findings.catalogue import sentence
from whorlpulse.findings.catalogue.sensors import SHAFT_NAMES
from whorlpulse.findings.report import Note, note
from whorlpulse.logfile import Log, LogError, looks_binary, read_log
from whorlpulse.pulses import FLYER, ROLLER, SHAFTS, UNCOUNTED, WHEEL, Flag, Rows
from whorlpulse.rig import Rig
from whorlpulse.wire import Decoder, Pulse

#: More than this part of the ticks beyond tick_bits means that the width is wrong, not the ticks.
_MISFIT = 0.5
_USUAL_BITS = (16, 24, 32, 48, 62)
Blocks = Callable[[], Iterable[bytes]]


@dataclass(frozen=True)
class Recording:
    """A log that was read. capture: its name for the user; blocks: gives its bytes once more."""

    capture: str
    log: Log
    blocks: Blocks
    _kept: list[tuple[Rig, Conditioned]] = field(default_factory=list, init=False, repr=False, compare=False)

    def conditioned(self, rig: Rig) -> Conditioned:
        """Return the log made countable for a rig; worked out once, however many questions are asked of it."""
        for known, found in self._kept:
            if known == rig:
                return found
        found = condition(self.log.rows, rig)
        self._kept.append((rig, found))
        return found


@dataclass(frozen=True)
class Side:
    """One log: its recording, rig, and what was said while the rig was put together."""

    recording: Recording
    rig: Rig
    notes: Sequence[Note] = ()


def read_recording(blocks: Blocks, capture: str) -> Recording:
    """Return the log whose bytes `blocks` gives; LogError, one line without the name, if they are no log."""
    first = next(iter(blocks()), b"")
    if looks_binary(first):
        raise LogError(sentence("not-a-log").format(kilobytes=64))
    return Recording(capture, read_log(blocks), blocks)


def unreadable(recording: Recording, conditioned: Conditioned, rig: Rig) -> Note | None:
    """Return why no figure of this log can be trusted, or None when it can be measured."""
    rows, tally = recording.log.rows, recording.log.tally
    if tally.total == 0:
        return note("empty")
    if len(rows) == 0:
        return note("no-pulse-lines", lines=tally.total)
    return wrong_tick_bits(rows, rig) or _second_log(recording, conditioned, rig) or too_coarse(conditioned)


def too_coarse(conditioned: Conditioned) -> Note | None:
    """Return the note that the clock is too coarse for a shaft's pulses: rounding alone would look like missed ones."""
    found = coarse_steps(conditioned)
    if found is None:
        return None
    return note("coarse-clock", shaft=SHAFT_NAMES[chr(found.letter)], ticks=FEWEST_TICKS, hertz=found.hz)


def wrong_tick_bits(rows: Rows, rig: Rig) -> Note | None:
    """Return the note that most ticks don't fit the clock's stated width, None where they do."""
    misfits = float(np.mean(rows.tick >= 1 << rig.tick_bits)) if rig.tick_bits and len(rows) else 0.0
    if misfits <= _MISFIT:
        return None
    largest = int(rows.tick.max())
    enough = next((bits for bits in _USUAL_BITS if largest < 1 << bits), 0)
    return note("tick-bits", percent=100 * misfits, bits=rig.tick_bits, largest=largest, enough=enough)


def _second_log(recording: Recording, conditioned: Conditioned, rig: Rig) -> Note | None:
    """Return the note that another log follows: the clock jumps back, or a greeting comes after a silence.

    Where the host says that it went on with this log (`resumed`), there is none. Neither is there one in a log
    that one recording wrote (one `started`, before all pulses): there the board began anew under its eyes.
    """
    clocked, entries = conditioned.clocked, recording.log.header.entries
    resumed = {e.row for e in entries if e.key == "resumed"}
    greeted = {e.row for e in entries if e.key == "format"}
    if [e.row for e in entries if e.key == "started"] == [0]:
        return None
    for row in clocked.restarts.tolist():
        if row not in resumed:
            seconds = float(clocked.tick[row]) / rig.tick_hz
            return note("clock-back", line=_line_of(recording.blocks, row), seconds=seconds)
    for row in clocked.silences.tolist():
        if row in greeted - resumed:
            seconds = float(clocked.tick[row - 1]) / rig.tick_hz
            return note("second-log", line=_line_of(recording.blocks, row), seconds=seconds)
    return None


def lacks_shaft(recording: Recording, letter: int) -> Note | None:
    """Return the note that a shaft's pulses are missing, and which there are; None if there are some."""
    channel = recording.log.rows.channel
    if (channel == letter).any():
        return None
    there = [f"{chr(c)} ({np.count_nonzero(channel == c)})" for c in (*SHAFTS, ord("k")) if (channel == c).any()]
    return note("no-flyer" if letter == FLYER else "no-wheel", others=" and ".join(there) or "nothing else")


def line_notes(recording: Recording) -> list[Note]:
    """Return what became of lines that could not be used."""
    header, tally = recording.log.header, recording.log.tally
    notes = [note("header-value", line=p.line, key=p.key, value=_short(p.value), why=p.why) for p in header.problems]
    damaged = tally.malformed_lines + tally.bad_checksum
    if damaged:
        seen = [line for s in tally.malformed.values() for line in s.lines] + tally.bad_checksum_lines
        notes.append(note("lines-damaged", damaged=damaged, line=min(seen)))
    if tally.lost:
        notes.append(note("lines-lost", lost=tally.lost))
    if tally.overruns:
        notes.append(note("overruns", overruns=tally.overruns))
    if tally.torn_tail:
        notes.append(note("torn-tail"))
    return notes


def pulse_notes(conditioned: Conditioned) -> list[Note]:
    """Return what was done to pulses of wheel and flyer, and from where the clock began anew."""
    flags = np.concatenate([conditioned.trains[c].flag for c in (WHEEL, FLYER)])
    filled, extra, bounced, idle = (
        int(np.count_nonzero(flags & flag)) for flag in (Flag.FILLED, Flag.EXTRA, Flag.BOUNCE, Flag.IDLE)
    )
    notes = []
    if filled or extra or bounced:
        notes.append(note("repaired", filled=filled, extra=extra, bounced=bounced))
    if idle:
        notes.append(note("idle", idle=idle))
    if conditioned.coarse & {WHEEL, FLYER}:
        notes.append(note("coarse"))
    for row in conditioned.clocked.restarts.tolist():
        seconds = float(conditioned.clocked.tick[row]) / conditioned.tick_hz
        notes.append(note("clock-went-back", seconds=seconds))
    return notes


def counted_pulses(conditioned: Conditioned, letter: int) -> int:
    """Return how many passages of a shaft's targets count."""
    train = conditioned.trains[letter]
    kept = train.flag & UNCOUNTED == 0
    return int(kept.sum()) if train.count is None else int(train.count[kept].sum())


def turns_seen(conditioned: Conditioned, rig: Rig, counted: float) -> float:
    """Return how many wheel turns a log has: those that were counted, or as many as its pulses make."""
    return max(counted, (counted_pulses(conditioned, WHEEL) - 1) / rig.targets["w"], 0.0)


def never_together_or_few(conditioned: Conditioned, rig: Rig, counted: float, needed: int) -> Note:
    """Return why both shafts give no answer: they never turned together, or for too few wheel turns."""
    if turns_seen(conditioned, rig, counted) >= needed:
        return note("never-together")
    return few_turns(conditioned, rig, counted, needed)


def few_turns(conditioned: Conditioned, rig: Rig, counted: float, needed: int, beside: int = 2) -> Note:
    """Return the note that there are too few wheel turns, and how long a log would do at the pace that there is.

    beside: turns that a log has besides, at its start and its end.
    """
    turns = min(int(turns_seen(conditioned, rig, counted)), needed - 1)
    waits = np.diff(conditioned.trains[WHEEL].tick / rig.tick_hz)
    waits = waits[waits > 0]
    if len(waits) == 0:
        return note("few-turns-no-pace", turns=turns, needed=needed)
    turn_s = float(np.median(waits)) * rig.targets["w"]
    return note("few-turns", turns=turns, needed=needed, enough_s=ceil((needed + beside) * turn_s))


def roller_pulses(conditioned: Conditioned) -> int:
    """Return how many pulses of the take-up roller there are."""
    return len(conditioned.trains[ROLLER])


def _line_of(blocks: Blocks, row: int) -> int:
    """Return the number of the line that pulse row `row` stands on, by going through the log once more."""
    decoder, before = Decoder(), 0
    for block in blocks():
        for message in decoder.feed(block):
            if isinstance(message, Pulse):
                if before == row:
                    return message.line
                before += 1
    return decoder.tally.total + 1


def _short(text: str) -> str:
    shown = text if len(text) <= 40 else text[:37] + "..."
    return "".join(c if c.isprintable() else "?" for c in shown)
