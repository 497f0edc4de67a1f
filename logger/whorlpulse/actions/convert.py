"""Convert: another recording to a pulse log, a pulse log to a tidy table, or to one tied better; bytes in, bytes out.

Which of them it is comes from the bytes themselves; a file's name decides only where they leave it open.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil, log10
from pathlib import PurePath
from typing import Final, Literal

import numpy as np

from whorlpulse.conditioning import Conditioned
from whorlpulse.importers.recording import Recording, header_lines, log_lines
from whorlpulse.logfile import Entry, looks_binary, write_log
from whorlpulse.pulses import Flag
from whorlpulse.wire import Decoder, Meta
from whorlpulse.wire.csc.again import csc_events, tied_afterwards

Kind = Literal["wav", "vcd", "csv", "log"]
KINDS: Final[tuple[Kind, ...]] = ("wav", "vcd", "csv", "log")
_BY_NAME: Final[Mapping[str, Kind]] = {
    ".wav": "wav", ".wave": "wav", ".vcd": "vcd", ".csv": "csv", ".tsv": "csv", ".txt": "csv", ".pulses": "log",
}  # fmt: skip
_FLAG_WORDS: Final = tuple(
    " ".join(str(f.name).lower() for f in Flag if f and bits & f) for bits in range(16)
)  # by the value of the bits


@dataclass(frozen=True)
class Asked:
    """What the user said of the recording; None: guess it, and say so.

    shafts: {letter: side, signal or column}. times_in, unit: a table's time column and its unit. falling: targets
    pull the signal down. targets: per turn, as a log's `targets` line.
    """

    shafts: Mapping[str, str] | None = None
    times_in: str | None = None
    unit: str | None = None
    falling: bool | None = None
    targets: str | None = None


def kind_of(start: bytes, name: str) -> Kind:
    """Return what a file is, by its first bytes (some 64 kB of them) and its name."""
    if start[:4] in (b"RIFF", b"RF64"):
        return "wav"
    if start.lstrip()[:1] == b"$":
        return "vcd"
    by_name = _BY_NAME.get(PurePath(name).suffix.lower())
    if by_name is not None:
        return by_name  # whose reader then says what is wrong with it
    return "csv" if looks_binary(start) else "log"


def read_recording(kind: Kind, data: bytes, asked: Asked) -> Recording:
    """Return the pulses in the bytes of a recording. Raises the importers' Unreadable and NothingFound."""
    if kind == "wav":
        from whorlpulse.importers.wav import from_wav

        sides = None if asked.shafts is None else {side: letter for letter, side in asked.shafts.items()}
        return from_wav(data, sides, falling=asked.falling)
    if kind == "vcd":
        from whorlpulse.importers.vcd import from_vcd

        return from_vcd(data, asked.shafts, falling=bool(asked.falling))
    if kind == "csv":
        from whorlpulse.importers.csv import from_csv

        return from_csv(data, asked.shafts, asked.times_in, asked.unit, falling=asked.falling)
    raise ValueError(f"{kind} is no recording to convert to a log")


def as_log(recording: Recording, asked: Asked, source: str) -> bytes:
    """Return the pulse log of a recording; source: the file's name, for the log's notes."""
    entries = [Entry(0, 0, key, value) for key, value in header_lines(recording, asked.targets, source)]
    return b"".join(write_log(entries, log_lines(recording)))


def tied_again(data: bytes) -> bytes | None:
    """Return a log made anew of two radio sensors' notifications in it, tied with all of them known.

    None where it holds none of two sensors, or was recorded in several parts, each on a clock of its own.
    """
    decoder = Decoder()
    messages = [*decoder.feed(data), *decoder.finish()]
    events = csc_events(messages)
    parts = sum(isinstance(m, Meta) and m.key == "format" for m in messages)
    sensors = {event.role for event in events if not isinstance(event, Meta)}
    return tied_afterwards(events) if parts == 1 and sensors == {"w", "f"} else None


def as_table(log: Conditioned) -> bytes:
    """Return a log's pulses as a table (RFC 4180, but lines end in LF), one row each, in order of time.

    time_s: since the log's first line, unwrapped; channel; count: pulses that the row stands for; flags: what was
    decided about it (bounce, extra, filled, idle, parted by blanks), empty if nothing; run: as the other commands
    number them, from 1, empty outside the runs.
    """
    spans = _run_spans(log)
    digits = min(9, max(0, ceil(log10(log.tick_hz))))
    tick = np.concatenate([t.tick for t in log.trains.values()])
    channel = np.concatenate([np.full(len(t), c) for c, t in log.trains.items()])
    flag = np.concatenate([t.flag for t in log.trains.values()])
    count = np.concatenate([np.ones(len(t), np.int64) if t.count is None else t.count for t in log.trains.values()])
    order = np.argsort(tick, kind="stable")
    t_s = tick[order] / log.tick_hz
    run = np.searchsorted([start for start, _, _ in spans], t_s, side="right") - 1
    lines = ["time_s,channel,count,flags,run"]
    for t, i, k in zip(t_s.tolist(), order.tolist(), run.tolist(), strict=True):
        inside = k >= 0 and t <= spans[k][1] and not flag[i] & Flag.IDLE
        number = str(spans[k][2] + 1) if inside else ""
        lines.append(f"{t:.{digits}f},{chr(channel[i])},{count[i]},{_FLAG_WORDS[int(flag[i]) % 16]},{number}")
    return ("\n".join(lines) + "\n").encode("ascii")


def _run_spans(log: Conditioned) -> list[tuple[float, float, int]]:
    """Return start and end in seconds and number of each run, in order of time."""
    spans: dict[int, tuple[float, float]] = {}
    for s in log.stretches:
        start, end = spans.get(s.run, (s.start_s, s.end_s))
        spans[s.run] = min(start, s.start_s), max(end, s.end_s)
    return sorted((start, end, run) for run, (start, end) in spans.items())
