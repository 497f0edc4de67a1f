"""The board: its clock, the order and numbering of its lines, and its reports by period."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from whorlpulse.pulses import FloatArray, IntArray
from whorlpulse.wire.encoder import encode_meta, encode_pulse

from .line_faults import LineFaults, places

Letters = npt.NDArray[np.str_]


@dataclass(frozen=True)
class Board:
    """The board. start_tick: what its clock showed at the start; clock_error_ppm: by how much it is fast.

    report_every_s: None for a line a pulse, else one line a channel and period, with the last pulse's time
    and their count, and nothing where nothing new came. keep_alive_s, sync_every_s: None for none;
    unix_start_s: the host's time at the start, for `sync`.
    """

    tick_hz: float = 1_000_000.0
    tick_bits: int = 32
    seq_bits: int = 16
    start_tick: int = 20_000
    clock_error_ppm: float = 0.0
    numbered: bool = True
    checksum: bool = True
    report_every_s: float | None = None
    keep_alive_s: float | None = 1.0
    sync_every_s: float | None = None
    unix_start_s: float = 1_000_000_000.0

    def ticks(self, t_s: FloatArray) -> IntArray:
        """Return what the wrapping clock shows at t_s (n,) seconds after the start, (n,) int64."""
        rate = self.tick_hz * (1.0 + 1e-6 * self.clock_error_ppm)
        ticks = np.floor(np.asarray(t_s) * rate).astype(np.int64) + self.start_tick
        return ticks & ((1 << self.tick_bits) - 1) if self.tick_bits else ticks


@dataclass(frozen=True)
class Events:
    """What the board has to say, in order: t_s (n,) the time each line tells, letter (n,), count (n,)."""

    t_s: FloatArray
    letter: Letters
    count: IntArray

    def only(self, keep: npt.NDArray[np.bool_] | IntArray) -> Events:
        """Return the events chosen by a mask or by row numbers, in that order."""
        return Events(self.t_s[keep], self.letter[keep], self.count[keep])


def gathered(board: Board, heard: Mapping[str, FloatArray], duration_s: float) -> Events:
    """Return the lines-to-be of all channels and the keep-alives, in the order in which they are sent."""
    parts = [_of_channel(board, letter, t[t < duration_s]) for letter, t in heard.items()]
    if board.keep_alive_s:
        beats = np.arange(0.0, duration_s, board.keep_alive_s)
        parts.append((beats, beats, np.full(len(beats), "k"), np.ones(len(beats), np.int64)))
    sent, told, letter, count = (np.concatenate(column) for column in zip(*parts, strict=True))
    order = np.lexsort((told, sent))
    return Events(told[order], letter[order], count[order])


def _of_channel(board: Board, letter: str, t_s: FloatArray) -> tuple[FloatArray, FloatArray, Letters, IntArray]:
    """Return when lines are sent (n,), the times they tell (n,), the letter (n,) and counts (n,)."""
    if board.report_every_s is None:
        return t_s, t_s, np.full(len(t_s), letter), np.ones(len(t_s), np.int64)
    period = np.floor(t_s / board.report_every_s).astype(np.int64)
    which, first, count = np.unique(period, return_index=True, return_counts=True)
    last = t_s[first + count - 1]
    sent: FloatArray = (which + 1).astype(np.float64) * board.report_every_s
    return sent, last, np.full(len(last), letter), count.astype(np.int64)


def board_faults(events: Events, faults: LineFaults, rng: np.random.Generator) -> tuple[Events, int]:
    """Return the events after swapped wires, overruns and a restart's deafness, and how many pulses it cost."""
    letter, lost = events.letter.copy(), 0
    if faults.swapped:
        one, other = faults.swapped
        letter[events.letter == one], letter[events.letter == other] = other, one
    events = Events(events.t_s, letter, events.count)
    pulses = np.flatnonzero(letter != "k")
    gone = np.zeros(len(letter), bool)
    for first, n in places(len(pulses), faults.overruns, rng):
        rows = pulses[first : first + n]
        gone[rows[:-1]] = True
        # the last pulse that was dropped becomes the line that owns up to it
        events.letter[rows[-1]], events.count[rows[-1]] = "x", int(events.count[rows].sum())
        lost += int(events.count[rows[-1]])
    if faults.restart_at_s is not None:
        end = faults.restart_at_s + faults.restart_s
        deaf = (events.t_s >= faults.restart_at_s) & (events.t_s < end)
        lost += int(events.count[deaf & (events.letter != "k")].sum())
        gone |= deaf
    return events.only(~gone), lost


def pulse_lines(board: Board, events: Events, restarted_at_s: float | None) -> list[bytes]:
    """Return one encoded line an event; after a restart the clock and the sequence number begin at 0."""
    ticks, seq = board.ticks(events.t_s), np.arange(len(events.t_s))
    if restarted_at_s is not None:
        again = events.t_s >= restarted_at_s
        fresh = Board(board.tick_hz, board.tick_bits, start_tick=0, clock_error_ppm=board.clock_error_ppm)
        ticks = np.where(again, fresh.ticks(np.maximum(events.t_s - restarted_at_s, 0.0)), ticks)
        seq = np.where(again, seq - int(np.count_nonzero(~again)), seq)
    if board.seq_bits:
        seq = seq & ((1 << board.seq_bits) - 1)
    counted = board.report_every_s is not None
    rows = zip(events.letter.tolist(), ticks.tolist(), seq.tolist(), events.count.tolist(), strict=True)
    return [
        encode_pulse(
            letter,
            tick,
            number if board.numbered else None,
            count if letter == "x" or (counted and letter != "k") else None,
            checksum=board.checksum,
        )
        for letter, tick, number, count in rows
    ]


def sync_lines(board: Board, duration_s: float) -> list[tuple[float, bytes]]:
    """Return (time, line) for the host's `sync` notes."""
    if not board.sync_every_s:
        return []
    times = np.arange(0.5, duration_s, board.sync_every_s)
    ticks = board.ticks(times)
    return [
        (t, encode_meta("sync", f"{board.unix_start_s + t:.6f} {tick}"))
        for t, tick in zip(times.tolist(), ticks.tolist(), strict=True)
    ]


def header(board: Board, targets: Mapping[str, int], roller_m: float | None, note: str) -> list[bytes]:
    """Return the metadata lines at the head of the log."""
    pairs = [
        ("format", "pulses 1"),
        ("tick_hz", f"{board.tick_hz:.0f}" if board.tick_hz == math.floor(board.tick_hz) else f"{board.tick_hz}"),
        ("tick_bits", str(board.tick_bits)),
        ("seq_bits", str(board.seq_bits)),
        ("targets", " ".join(f"{c}={n}" for c, n in targets.items())),
    ]
    if roller_m is not None:
        pairs.append(("roller", f"{100.0 * roller_m:.2f} cm"))
    pairs += [("board", "simulated"), ("note", note)]
    return [encode_meta(key, value) for key, value in pairs]
