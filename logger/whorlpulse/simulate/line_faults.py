"""Faults between the board and the log: lost, garbled and torn lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_QUIET = 8  # the first and last lines of a log are spared
_NOT_PUT_IN = frozenset(b"#*\r\n")  # would make another kind of line of it


@dataclass(frozen=True)
class LineFaults:
    """What goes wrong with lines.

    lost_blocks: for each block, how many lines in a row are lost. garbled: how many lines arrive damaged.
    torn_tail: the last line is cut. overruns: for each, how many pulses in a row the board itself drops and
    owns up to with an `x` line. swapped: two channels whose wires were exchanged. restart_at_s: the board
    starts again (its tick and sequence number at 0) and is deaf for restart_s.
    """

    lost_blocks: tuple[int, ...] = ()
    garbled: int = 0
    torn_tail: bool = False
    overruns: tuple[int, ...] = ()
    swapped: tuple[str, str] | None = None
    restart_at_s: float | None = None
    restart_s: float = 1.5


def damage(lines: list[bytes], faults: LineFaults, rng: np.random.Generator) -> tuple[list[bytes | None], list[int]]:
    """Return the pulse lines as they arrive (None where lost), and which of them are garbled.

    Blocks lie apart from each other. Raises ValueError when the log is too short for the faults.
    """
    out: list[bytes | None] = list(lines)
    for first, n in places(len(lines), faults.lost_blocks, rng):
        out[first : first + n] = [None] * n
    left = [i for i in range(_QUIET, len(out) - _QUIET) if out[i] is not None]
    if faults.garbled > len(left):
        raise ValueError(f"{len(lines)} lines are too few to garble {faults.garbled} of them")
    hit = sorted(rng.choice(np.array(left), faults.garbled, replace=False).tolist()) if faults.garbled else []
    for i in hit:
        out[i] = _garbled(lines[i], rng)
    if faults.torn_tail:
        out[-1] = lines[-1][: int(rng.integers(1, len(lines[-1]) - 2))]
    return out, hit


def places(n: int, blocks: tuple[int, ...], rng: np.random.Generator) -> list[tuple[int, int]]:
    """Return (first, length) for blocks at random places among n things: apart, and not at either end."""
    if not blocks:
        return []
    room = n - 2 * _QUIET - sum(blocks) - _QUIET * (len(blocks) - 1)
    if room < 1:
        raise ValueError(f"{n} lines are too few for blocks of {blocks}")
    starts = np.sort(rng.integers(0, room, len(blocks))).tolist()
    found, used = [], _QUIET
    for start, length in zip(starts, blocks, strict=True):
        found.append((start + used, length))
        used += length + _QUIET
    return found


def _garbled(line: bytes, rng: np.random.Generator) -> bytes:
    """Return the line with a byte dropped, one byte changed, or several turned to noise; LF stays."""
    body = bytearray(line[:-1])
    kind = int(rng.integers(3))
    if kind == 0:
        del body[int(rng.integers(len(body)))]
    elif kind == 1:
        at = int(rng.integers(len(body)))
        body[at] = int(rng.choice([b for b in range(33, 127) if b != body[at] and b not in _NOT_PUT_IN]))
    else:
        for at in rng.choice(len(body), int(rng.integers(1, 4)), replace=False).tolist():
            body[at] = int(rng.integers(128, 256))
    return bytes(body) + b"\n"
