"""The health of a log: the result of `check`, and how it follows from the log and its conditioned shafts."""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from whorlpulse.estimators.timing_noise import FEWEST_DIFFERENCES, timing_noise
from whorlpulse.findings.catalogue.sensors import SHAFT_NAMES
from whorlpulse.findings.evidence import Facts
from whorlpulse.findings.report import Finding, Note, note
from whorlpulse.findings.rules import all_findings
from whorlpulse.pulses import BOBBIN, FLYER, ROLLER, SHAFTS, WHEEL, Flag
from whorlpulse.wire import Tally

_ALWAYS_SHOWN: Final = (WHEEL, FLYER)


class LineCounts(msgspec.Struct, frozen=True):
    """What became of the lines. pulses: lines on the shafts' channels; lost: never arrived, by their numbers."""

    total: int
    pulses: int
    keep_alives: int
    overruns: int
    metadata: int
    malformed: int
    bad_checksum: int
    lost: int
    torn_tail: bool


class ChannelHealth(msgspec.Struct, frozen=True):
    """One channel. pulses: as reported; missed: put in; extra: bounces and pulses where no target passed.

    idle: pulses of no run. angles_turns: of the targets, from the first (None: not known). noise_s: standard
    deviation of a lone pulse's time (None: not known). Reasons for what is not known are among the report's notes.
    """

    letter: str
    pulses: int
    missed: int | None
    extra: int | None
    idle: int
    targets: int
    angles_turns: tuple[float, ...] | None
    noise_s: float | None


class HealthReport(msgspec.Struct, frozen=True):
    """Answer to `check`. cannot_say: why there is nothing to examine."""

    capture: str
    lines: LineCounts
    channels: tuple[ChannelHealth, ...] = ()
    duration_s: float | None = None
    findings: tuple[Finding, ...] = ()
    cannot_say: Note | None = None
    notes: tuple[Note, ...] = ()


def line_counts(tally: Tally) -> LineCounts:
    """Return the counts of a tally."""
    return LineCounts(
        tally.total,
        tally.pulses,
        tally.keep_alives,
        tally.overruns,
        tally.metadata,
        tally.malformed_lines,
        tally.bad_checksum,
        tally.lost,
        tally.torn_tail,
    )


def health_of(capture: str, facts: Facts, notes: tuple[Note, ...] = ()) -> HealthReport:
    """Return the health of a log that has lines to examine. notes: what was said before, kept in front."""
    findings, said = all_findings(facts)
    channels, reasons = [], []
    for letter in SHAFTS:
        if letter in _ALWAYS_SHOWN or len(facts.conditioned.trains[letter]):
            channel, why_not = _channel(facts, letter)
            if said and letter in _ALWAYS_SHOWN:  # the rules say that these two can't be judged
                channel = msgspec.structs.replace(channel, missed=None, extra=None, angles_turns=None, noise_s=None)
                why_not = []
            channels.append(channel)
            reasons += why_not
    ticks = len(facts.log.rows) > 0
    if not ticks:
        reasons.append(note("duration-unknown"))
    if len(facts.conditioned.trains[ROLLER]) == 0 and not facts.log.header.lengths:
        reasons.append(note("no-length"))
    return HealthReport(
        capture,
        line_counts(facts.log.tally),
        tuple(channels),
        facts.conditioned.duration_s if ticks else None,
        findings,
        notes=(*notes, *said, *reasons),
    )


def _channel(facts: Facts, letter: int) -> tuple[ChannelHealth, list[Note]]:
    """Return one channel's health and the reasons for what is not known of it."""
    train, shaft = facts.conditioned.trains[letter], SHAFT_NAMES[chr(letter)].capitalize()
    targets = facts.targets(letter)
    if len(train) == 0:
        nothing = ChannelHealth(chr(letter), 0, None, None, 0, targets, None, None)
        return nothing, [note("no-pulses", shaft=shaft)]
    filled, idle = (int(np.count_nonzero(train.flag & f)) for f in (Flag.FILLED, Flag.IDLE))
    angles, reasons = _angles(facts, letter)
    if letter in facts.conditioned.coarse:
        pulses = len(train) if train.count is None else int(train.count.sum())
        coarse = ChannelHealth(chr(letter), pulses, None, None, idle, targets, angles, None)
        return coarse, [*reasons, note("coarse-lines", shaft=shaft)]
    noise, why_not = _noise(facts, letter)
    judged = letter in (WHEEL, FLYER) or (letter == BOBBIN and _bobbin_is_judged(facts))
    extra = int(np.count_nonzero(train.flag & (Flag.BOUNCE | Flag.EXTRA)))
    mended = letter == ROLLER and filled > 0
    if not judged:
        reasons += [] if mended else [note("missed-not-judged", shaft=shaft)]
        idle = 0  # runs are parted by wheel and flyer; idle means nothing for the others
    channel = ChannelHealth(
        chr(letter), len(train) - filled, filled if judged or mended else None, extra, idle, targets, angles, noise
    )
    return channel, [*reasons, *why_not]


def _bobbin_is_judged(facts: Facts) -> bool:
    """Whether the wheel or the flyer tells when the bobbin's pulses are due."""
    return facts.conditioned.bobbin_leads or len(facts.conditioned.trains[FLYER]) > 1


def _angles(facts: Facts, letter: int) -> tuple[tuple[float, ...] | None, list[Note]]:
    targets = facts.targets(letter)
    if targets == 1:
        return (0.0,), []
    found = facts.conditioned.angles.get(letter)
    if found is None or not found.measured:
        shaft = SHAFT_NAMES[chr(letter)].capitalize()
        return None, [note("angles-unknown", shaft=shaft, targets=targets)]
    return tuple(found.angle.tolist()), []


def _noise(facts: Facts, letter: int) -> tuple[float | None, list[Note]]:
    """Timing noise of a shaft, or None and why."""
    shaft = SHAFT_NAMES[chr(letter)].capitalize()
    if letter == WHEEL:
        return None, [note("noise-wheel")]
    if letter in (BOBBIN, ROLLER):
        return None, [note("noise-idle", shaft=shaft)]
    pieces = [s.flyer for s in facts.conditioned.stretches]
    found = timing_noise(pieces, facts.targets(letter), 1.0 / facts.rig.tick_hz)
    if found.hidden == "few":
        return None, [note("noise-few", shaft=shaft, needed=FEWEST_DIFFERENCES, seen=found.differences)]
    if found.hidden == "feet" and found.at_most_s is not None:
        return None, [note("noise-feet", shaft=shaft, at_most_us=1e6 * found.at_most_s)]
    return found.sigma_s, []
